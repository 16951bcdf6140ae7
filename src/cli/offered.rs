//! Names that a shell offers while one types, though others are taken as well: profiles of one's own, rules by their old names.

use std::ffi::OsStr;

use clap::builder::{PossibleValue, StringValueParser, TypedValueParser};
use clap::{Arg, Command, Error};
use lowbrass::profile::embedded_names;
use lowbrass::rules::RULES;

/// The names of the rules.
pub(super) fn rules() -> Offered {
    Offered(|| RULES.iter().map(|rule| rule.name).collect())
}

/// The names of the built-in profiles.
pub(super) fn profiles() -> Offered {
    Offered(|| embedded_names().collect())
}

/// Takes any text and offers these.
#[derive(Clone)]
pub(super) struct Offered(fn() -> Vec<&'static str>);

impl TypedValueParser for Offered {
    type Value = String;

    fn parse_ref(&self, command: &Command, arg: Option<&Arg>, value: &OsStr) -> Result<String, Error> {
        StringValueParser::new().parse_ref(command, arg, value)
    }

    fn possible_values(&self) -> Option<Box<dyn Iterator<Item = PossibleValue> + '_>> {
        Some(Box::new((self.0)().into_iter().map(PossibleValue::new)))
    }
}
