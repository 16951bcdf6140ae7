//! JUnit XML, as build servers read it: a suite for each score, a case for each finding, and one that passes
//! for each part without any.
//!
//! A finding fails its case from `--fail-on` up, as the exit status does; below it the case passes and
//! carries the words. What is waived is a skipped case.

use std::io::{self, Write};

use quick_xml::events::{BytesDecl, BytesText, Event};
use quick_xml::writer::Writer;

use super::contract::{Finding, Level, Report, Score, Unread};
use super::phrases;

/// Writes what is at least `from`; what is at least `fails` fails.
pub(super) fn write(
    report: &Report,
    from: Level,
    fails: Option<Level>,
    out: &mut dyn Write,
) -> io::Result<()> {
    let suites: Vec<Suite> = report
        .scores
        .iter()
        .map(|score| Suite::of(score, from, fails))
        .chain(report.unread.iter().map(Suite::unread))
        .collect();
    let total =
        |outcome: fn(&Outcome) -> bool| suites.iter().map(|suite| suite.count(outcome)).sum::<usize>();
    let mut xml = Writer::new_with_indent(&mut *out, b' ', 2);
    xml.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    xml.create_element("testsuites")
        .with_attributes([
            ("name", "lowbrass"),
            ("tests", total(|_| true).to_string().as_str()),
            ("failures", total(Outcome::is_failure).to_string().as_str()),
            ("errors", total(Outcome::is_error).to_string().as_str()),
        ])
        .write_inner_content(|xml| suites.iter().try_for_each(|suite| suite.write(xml)))?;
    writeln!(out)
}

struct Suite {
    path: String,
    not_judged: Option<String>,
    cases: Vec<Case>,
}

struct Case {
    class: String,
    name: String,
    outcome: Outcome,
}

enum Outcome {
    Passes,
    /// It passes, and there is something to say.
    Remark(String),
    /// Rule and words.
    Failure(String, String),
    Error(String),
    Skipped(String),
}

impl Outcome {
    fn is_failure(&self) -> bool {
        matches!(self, Outcome::Failure(..))
    }

    fn is_error(&self) -> bool {
        matches!(self, Outcome::Error(_))
    }
}

impl Suite {
    fn of(score: &Score, from: Level, fails: Option<Level>) -> Suite {
        let shown: Vec<&Finding> = score.findings.iter().filter(|finding| finding.severity >= from).collect();
        let clean = score
            .parts
            .iter()
            .filter(|part| !shown.iter().any(|finding| finding.is_about(&part.id, &part.name)))
            .map(|part| Case {
                class: score.path.clone(),
                name: format!("{}: nothing to remark", phrases::part_label(score, &part.id, &part.name)),
                outcome: Outcome::Passes,
            });
        let found = shown.iter().map(|finding| Case {
            class: score.path.clone(),
            name: format!("{}: {}", phrases::part_and_place(score, finding), finding.rule),
            outcome: outcome(score, finding, fails),
        });
        let not_judged = phrases::not_judged(score);
        Suite { path: score.path.clone(), not_judged, cases: found.chain(clean).collect() }
    }

    fn unread(unread: &Unread) -> Suite {
        let case = Case {
            class: unread.path.clone(),
            name: "can be read".to_owned(),
            outcome: Outcome::Error(unread.message.clone()),
        };
        Suite { path: unread.path.clone(), not_judged: None, cases: vec![case] }
    }

    fn count(&self, outcome: fn(&Outcome) -> bool) -> usize {
        self.cases.iter().filter(|case| outcome(&case.outcome)).count()
    }

    fn write<W: Write>(&self, xml: &mut Writer<W>) -> io::Result<()> {
        xml.create_element("testsuite")
            .with_attributes([
                ("name", legal(&self.path).as_str()),
                ("tests", self.cases.len().to_string().as_str()),
                ("failures", self.count(Outcome::is_failure).to_string().as_str()),
                ("errors", self.count(Outcome::is_error).to_string().as_str()),
            ])
            .write_inner_content(|xml| {
                if let Some(said) = &self.not_judged {
                    xml.create_element("properties").write_inner_content(|xml| {
                        let said = legal(said);
                        let property = [("name", "parts"), ("value", said.as_str())];
                        xml.create_element("property").with_attributes(property).write_empty().map(|_| ())
                    })?;
                }
                self.cases.iter().try_for_each(|case| case.write(xml))
            })?;
        Ok(())
    }
}

impl Case {
    fn write<W: Write>(&self, xml: &mut Writer<W>) -> io::Result<()> {
        let case = xml.create_element("testcase").with_attributes([
            ("classname", legal(&self.class).as_str()),
            ("name", legal(&self.name).as_str()),
        ]);
        let told = |xml: &mut Writer<W>, element: &str, kind: &str, message: &str| {
            let message = legal(message);
            xml.create_element(element)
                .with_attributes([("message", message.as_str()), ("type", kind)])
                .write_text_content(BytesText::new(&message))
                .map(|_| ())
        };
        match &self.outcome {
            Outcome::Passes => case.write_empty()?,
            Outcome::Remark(said) => case.write_inner_content(|xml| {
                xml.create_element("system-out").write_text_content(BytesText::new(&legal(said)))?;
                Ok(())
            })?,
            Outcome::Failure(rule, said) => {
                case.write_inner_content(|xml| told(xml, "failure", &legal(rule), said))?
            }
            Outcome::Error(said) => case.write_inner_content(|xml| told(xml, "error", "unread", said))?,
            Outcome::Skipped(why) => case.write_inner_content(|xml| told(xml, "skipped", "waived", why))?,
        };
        Ok(())
    }
}

fn outcome(score: &Score, finding: &Finding, fails: Option<Level>) -> Outcome {
    if let Some(waived) = &finding.waived {
        return Outcome::Skipped(phrases::why_waived(waived));
    }
    let said = phrases::in_one_line(score, finding);
    if fails.is_some_and(|fails| finding.severity >= fails) {
        Outcome::Failure(finding.rule.clone(), said)
    } else {
        Outcome::Remark(format!("{}: {said}", finding.severity.word()))
    }
}

/// Without the characters that no XML 1.0 document may hold, escaped or not.
fn legal(text: &str) -> String {
    text.chars()
        .filter(|&letter| {
            matches!(letter, '\t' | '\n' | '\r' | '\u{20}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn characters_that_no_xml_may_hold_are_left_out() {
        assert_eq!(legal("a\u{0}b\u{1}c\u{b}d\u{fffe}e\u{ffff}\tf𝄢"), "abcde\tf𝄢");
    }
}
