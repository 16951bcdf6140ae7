//! `lowbrass rules`: the list, or one rule's page.

use std::fmt::Write as _;

use anstyle::Style;
use lowbrass::nearest;
use lowbrass::report::rule_page;
use lowbrass::rules::{Family, RULES, Rule, present_name};

use super::args::RulesArgs;
use super::{Failure, Outcome, print, terminal};

const STRONG: Style = Style::new().bold();

pub(super) fn run(args: &RulesArgs) -> Outcome {
    match &args.rule {
        None => print(&list()),
        Some(name) => print(&rule_page(named(name)?, terminal::width().min(100))),
    }
}

fn named(name: &str) -> Result<&'static Rule, Failure> {
    present_name(name).and_then(Rule::named).ok_or_else(|| {
        let hint = nearest::hint(name, RULES.iter().map(|rule| rule.name));
        Failure::of(format!("no rule is called '{name}'{hint} ('lowbrass rules' lists them)"))
    })
}

fn list() -> String {
    let widest = RULES.iter().map(|rule| rule.name.len()).max().unwrap_or(0);
    let mut text = String::new();
    for family in Family::ALL {
        let of_family: Vec<&Rule> = RULES.iter().filter(|rule| rule.family == *family).collect();
        if of_family.is_empty() {
            continue;
        }
        let _ = writeln!(text, "{STRONG}{}{STRONG:#}", family.word());
        for rule in of_family {
            let indent = format!("  {:widest$}  {:7}  ", rule.name, rule.severity.word());
            let finds = terminal::wrapped(rule.page.finds, &indent, indent.len());
            text.push_str(&finds);
        }
        text.push('\n');
    }
    text.push_str("The severity is the heaviest a rule gives. 'lowbrass rules RULE' shows a rule's page.\n");
    text
}
