//! Which key of a TOML text a place belongs to, so that a fault can be named by it.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

/// The keys that lead to a place, joined by full stops ("part.players"). Rows of a list share their name: the line tells them
/// apart. `None` where the text is no TOML, or the place belongs to no value (an unknown key, the text as a whole).
pub(crate) fn at(text: &str, place: &Range<usize>) -> Option<String> {
    let document = DeTable::parse(text).ok()?;
    let mut search = Search { place, path: Vec::new(), found: None };
    search.table(document.get_ref());
    search.found.map(|(_, path)| path)
}

struct Search<'p, 't> {
    place: &'p Range<usize>,
    path: Vec<&'t str>,
    /// The length of the narrowest value around the place, and its keys.
    found: Option<(usize, String)>,
}

impl<'t> Search<'_, 't> {
    fn table(&mut self, table: &'t DeTable<'_>) {
        for (key, value) in table {
            self.path.push(key.get_ref());
            self.value(value);
            self.path.pop();
        }
    }

    fn value(&mut self, value: &'t toml::Spanned<DeValue<'_>>) {
        let span = value.span();
        let is_around =
            span.start <= self.place.start && self.place.end <= span.end && self.place.start < span.end;
        if is_around && self.found.as_ref().is_none_or(|(length, _)| span.len() <= *length) {
            self.found = Some((span.len(), self.path.join(".")));
        }
        match value.get_ref() {
            DeValue::Table(table) => self.table(table),
            DeValue::Array(rows) => rows.iter().for_each(|row| self.value(row)),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn key(text: &str, piece: &str) -> Option<String> {
        let start = text.find(piece).unwrap();
        at(text, &(start..start + piece.len()))
    }

    #[test]
    fn a_value_has_the_keys_that_lead_to_it() {
        let text = "tempo = 1\n[[part]]\nname = 'x'\n[[part]]\nmutes = ['cup', 'hat']\n[a.b]\nc.d = { e = [ { f = 2 } ] }\n";
        assert_eq!(key(text, "1").as_deref(), Some("tempo"));
        assert_eq!(key(text, "'hat'").as_deref(), Some("part.mutes"));
        assert_eq!(key(text, "2").as_deref(), Some("a.b.c.d.e.f"));
    }

    #[test]
    fn what_is_no_value_has_none() {
        assert_eq!(key("temp = 1", "temp"), None);
        assert_eq!(key("temp = = 1", "1"), None);
    }
}
