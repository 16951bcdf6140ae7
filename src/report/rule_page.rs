//! A rule's page, for the terminal and for the generated reference.
//!
//! In goes a rule; out comes what it finds, why that matters at the stand, what to do, how to say "I mean it",
//! which numbers it reads, its sources and its two example scores. The words are those of the rule's own file.

use std::fmt::Write as _;

use crate::rules::{Family, RULES, Rule, Scope};

/// Folder of the example scores, from the project's root; in it a folder for each rule.
pub const EXAMPLES: &str = "examples/rules";

/// The page of one rule as plain text, lines wrapped at `width` columns.
pub fn rule_page(rule: &Rule, width: usize) -> String {
    let mut page = format!("{}\n{}, {}\n", rule.name, rule.family.word(), heaviest(rule));
    for (head, text) in sections(rule) {
        let _ = write!(page, "\n{head}\n");
        for paragraph in text.lines() {
            let indent = if paragraph.starts_with(' ') { "      " } else { "  " };
            let options = textwrap::Options::new(width.max(20))
                .initial_indent(indent)
                .subsequent_indent(indent)
                .break_words(false);
            let _ = writeln!(page, "{}", textwrap::fill(paragraph.trim_start(), options));
        }
    }
    page
}

/// The reference of all rules in Markdown, by family.
pub fn reference() -> String {
    let mut page = String::from(
        "<!-- Written by the tests from src/rules; LOWBRASS_BLESS=1 cargo test writes it anew. -->\n\n# The rules\n\n\
         Each folder here holds two scores: `fault.musicxml` shows its rule once, `sound.musicxml` comes near it and is \
         sound. An error cannot be played as written, a warning is a risk at the stand, a note is worth knowing.\n",
    );
    for family in Family::ALL {
        let rules = || RULES.iter().filter(|rule| rule.family == *family);
        let _ = write!(
            page,
            "\n## {}\n\n| rule | at most | finds |\n| --- | --- | --- |\n",
            capital(family.word())
        );
        for rule in rules() {
            let _ = writeln!(
                page,
                "| [`{0}`](#{0}) | {1} | {2} |",
                rule.name,
                rule.severity.word(),
                rule.page.finds.trim_end_matches('.')
            );
        }
        for rule in rules() {
            let _ = write!(page, "\n### {}\n\n", rule.name);
            for (head, text) in sections(rule) {
                let _ = writeln!(page, "**{head}** {}\n", markdown(&text));
            }
            page.truncate(page.trim_end().len());
            page.push('\n');
        }
    }
    page
}

fn heaviest(rule: &Rule) -> String {
    format!("{} at most", rule.severity.word())
}

fn sections(rule: &Rule) -> Vec<(&'static str, String)> {
    let page = &rule.page;
    let mut sections = vec![
        ("What it finds", page.finds.to_owned()),
        ("Why it matters at the stand", page.matters.to_owned()),
        ("What to do", page.instead.to_owned()),
        ("To say that it is meant", meant(rule)),
    ];
    if let Some(caution) = rule.family.caution() {
        sections.insert(3, ("Take care", caution.to_owned()));
    }
    if !page.reads.is_empty() {
        sections.push(("What it reads", reads(page.reads)));
    }
    sections.push(("Sources", format!("{}.", page.sources.join("; "))));
    sections.push((
        "Scores",
        format!(
            "{EXAMPLES}/{0}/fault.musicxml shows it, {EXAMPLES}/{0}/sound.musicxml comes near it.",
            rule.name
        ),
    ));
    sections
}

fn meant(rule: &Rule) -> String {
    let name = rule.name;
    match rule.scope {
        Scope::Settings => format!("In the settings:\n [levels]\n {name} = \"off\""),
        Scope::Note(_) | Scope::Passage(_) | Scope::Line(_) => format!(
            "In the score, as a text at the note (hidden text counts): \"ok: {name}\". Or in the settings, with the reason:\n [[waive]]\n rule = \"{name}\"\n part = \"Tuba*\"\n bars = \"40-44\"\n because = \"the player asked for it\""
        ),
        Scope::Desk(_) | Scope::Section(_) => format!(
            "In the settings, with the reason:\n [[waive]]\n rule = \"{name}\"\n part = \"Tuba*\"\n because = \"agreed with the players\""
        ),
    }
}

fn reads(keys: &[&str]) -> String {
    let (of_section, of_profile): (Vec<&&str>, Vec<&&str>) =
        keys.iter().partition(|key| key.starts_with("section:"));
    let list = |keys: &[&&str]| {
        keys.iter().map(|key| key.trim_start_matches("section:")).collect::<Vec<_>>().join(", ")
    };
    let mut said = Vec::new();
    if !of_profile.is_empty() {
        said.push(format!("Of the instrument's profile: {}.", list(&of_profile)));
    }
    if !of_section.is_empty() {
        said.push(format!("Of profiles/section.toml: {}.", list(&of_section)));
    }
    said.join("\n")
}

/// Indented lines become a fenced block, so that they can be copied.
fn markdown(text: &str) -> String {
    let mut out = String::new();
    let mut fenced = false;
    for line in text.lines() {
        let code = line.starts_with(' ');
        if code != fenced {
            out.push_str(if code { "\n\n```toml\n" } else { "```\n\n" });
            fenced = code;
        } else if !out.is_empty() && !out.ends_with('\n') {
            out.push(' ');
        }
        out.push_str(line.trim_start());
        if fenced {
            out.push('\n');
        }
    }
    if fenced {
        out.push_str("```");
    }
    out
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn root() -> &'static std::path::Path {
        std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
    }

    #[test]
    fn the_committed_reference_is_what_the_rules_say() {
        let path = root().join(EXAMPLES).join("README.md");
        let says = reference();
        if std::env::var_os("LOWBRASS_BLESS").is_some() {
            std::fs::write(&path, &says).unwrap();
        }
        let committed = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(
            committed == says,
            "{} is out of date: LOWBRASS_BLESS=1 cargo test writes it",
            path.display()
        );
    }

    #[test]
    fn a_page_keeps_to_its_width_and_names_the_way_out() {
        for rule in RULES {
            let page = rule_page(rule, 72);
            for line in page.lines() {
                assert!(line.chars().count() <= 72 || !line.trim().contains(' '), "{}: {line}", rule.name);
            }
            assert!(page.starts_with(rule.name) && page.contains("To say that it is meant"), "{page}");
        }
    }

    #[test]
    fn every_folder_of_examples_belongs_to_a_rule() {
        for entry in std::fs::read_dir(root().join(EXAMPLES)).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            assert!(path.is_file() || Rule::named(&name).is_some(), "{} belongs to no rule", path.display());
        }
        for rule in RULES {
            for score in ["fault.musicxml", "sound.musicxml"] {
                let path = root().join(EXAMPLES).join(rule.name).join(score);
                assert!(path.is_file(), "{} is missing", path.display());
            }
        }
    }
}
