//! How places, moves and numbers are said. What is wrong is a rule's to say; this is how a colleague would
//! point at it: "bars 12–13, from beat 3", "Take bar 12, beat 3, up an octave".

use std::collections::BTreeMap;

use super::contract::{At, Finding, Level, Move, OctaveMove, Part, Report, Score, Standing, Waived};
use crate::finding::{self, beat_number, beat_said};

/// "1 note", "6 notes"; the plural adds an s.
pub(super) fn counted(count: u32, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

/// A bar by its printed number, in mid-sentence.
pub(super) fn bar(number: &str, index: u32) -> String {
    match number {
        "" => format!("the unnumbered bar in place {}", index + 1),
        "0" if index == 0 => "the pickup bar".to_owned(),
        _ => format!("bar {number}"),
    }
}

/// One place: "bar 12, beat 3", "bar 12, last 32nd of beat 1".
pub(super) fn place(at: &At) -> String {
    format!("{}, {}", bar(&at.bar, at.bar_index), beat_said(&at.beat, at.beat_unit))
}

/// From one place to another, both inclusive: "bar 12, beat 3", "bar 12, beats 1–3", "bars 12–13, from beat 3". What
/// ends within the beat in which it begins is at that beat; of several beats no fraction is said.
pub(super) fn stretch(from: &At, to: &At) -> String {
    if from.bar_index >= to.bar_index {
        return match (beat_number(&from.beat), beat_number(&to.beat)) {
            (Some(first), Some(last)) if first < last => {
                format!("{}, beats {first}–{last}", bar(&from.bar, from.bar_index))
            }
            _ => place(from),
        };
    }
    let plain = !from.bar.is_empty() && !to.bar.is_empty() && from.bar != "0";
    let bars = if plain {
        format!("bars {}–{}", from.bar, to.bar)
    } else {
        format!("{} to {}", bar(&from.bar, from.bar_index), bar(&to.bar, to.bar_index))
    };
    let said = beat_said(&from.beat, from.beat_unit);
    match from.beat.as_str() {
        "1" => bars,
        _ if said.starts_with(|letter: char| letter.is_ascii_digit() || letter == 'l') => {
            format!("{bars}, from the {said}")
        }
        _ => format!("{bars}, from {said}"),
    }
}

/// Where a finding stands; empty for one that is about no place.
pub(super) fn where_it_stands(finding: &Finding) -> String {
    if !has_place(finding) {
        return String::new();
    }
    let (from, to) = ends(finding);
    stretch(&from, &to)
}

/// Whether it stands anywhere in the score; what is said of settings does not.
pub(super) fn has_place(finding: &Finding) -> bool {
    finding.beat != "0"
}

/// Its bars alone, for a list: "12–13", "40".
pub(super) fn bars_alone(finding: &Finding) -> String {
    let (from, to) = ends(finding);
    if from.bar_index >= to.bar_index { from.bar } else { format!("{}–{}", from.bar, to.bar) }
}

/// First and last place of a finding.
pub(super) fn ends(finding: &Finding) -> (At, At) {
    let from = At {
        bar: finding.bar.clone(),
        bar_index: finding.bar_index,
        beat: finding.beat.clone(),
        beat_unit: finding.beat_unit,
    };
    let span = &finding.span;
    let to = At {
        bar: span.to_bar.clone(),
        bar_index: span.to_bar_index,
        beat: span.to_beat.clone(),
        beat_unit: span.to_beat_unit,
    };
    (from, to)
}

/// What is asked at the worst note: "D1 ff, 2.0 s"; `None` where it is about no note.
pub(super) fn asked(finding: &Finding) -> Option<String> {
    let mut said = finding.sounding.clone()?;
    if let Some(dynamic) = &finding.dynamic {
        said = format!("{said} {dynamic}");
    }
    if let Some(seconds) = finding.seconds.filter(|&seconds| seconds >= 1.0) {
        said = format!("{said}, {seconds:.1} s");
    }
    if finding.span.sounds > 1 {
        said = format!("{said}, {} notes", finding.span.sounds);
    }
    Some(said)
}

/// "up an octave", "down two octaves".
pub(super) fn by_octaves(octaves: i32) -> String {
    let way = if octaves < 0 { "down" } else { "up" };
    match octaves.unsigned_abs() {
        1 => format!("{way} an octave"),
        2 => format!("{way} two octaves"),
        3 => format!("{way} three octaves"),
        many => format!("{way} {many} octaves"),
    }
}

/// What to do, as sentences: the move where there is one, the rule's own way out, both or neither.
/// `each`: it is said once for several like places.
pub(super) fn what_to_do(finding: &Finding, each: bool) -> Option<String> {
    let moved = finding.octave_move.as_ref().map(|offered| move_sentence(finding, offered, each));
    let instead = finding.instead.as_deref().map(sentence);
    match (moved, instead) {
        (Some(moved), Some(instead)) => Some(format!("{moved} {instead}")),
        (moved, instead) => moved.or(instead),
    }
}

fn move_sentence(finding: &Finding, offered: &OctaveMove, each: bool) -> String {
    let what = if each { "each".to_owned() } else { stretch(&offered.from, &offered.to) };
    let comma = if what.contains(',') { "," } else { "" };
    let way = by_octaves(offered.octaves);
    let there = match (&offered.sounding, &finding.dynamic) {
        (Some(sounding), Some(dynamic)) => format!("{sounding} at {dynamic}"),
        (Some(sounding), None) => sounding.clone(),
        _ => String::new(),
    };
    let why = offered.why_not_safe.as_deref();
    let mut said = match (offered.standing, why) {
        // The planner's words say that no octave serves, and what else would.
        (Standing::Manual, why) => return sentence(why.unwrap_or("no octave serves the passage")),
        (Standing::Safe, _) if there.is_empty() => format!("Take {what}{comma} {way}."),
        (Standing::Safe, _) => format!("Take {what}{comma} {way}: {there}."),
        (Standing::Review, why) => {
            let there = if there.is_empty() { there } else { format!(" ({there})") };
            let why = why.unwrap_or("it changes more than this passage");
            sentence(&format!("taking {what}{comma} {way} would clear it{there}, but listen first: {why}"))
        }
    };
    if let Some(doubling) = &offered.doubling {
        said = format!("{said} {}", sentence(doubling));
    }
    if let Some(layout) = &offered.layout {
        said = format!("{said} On the page, {layout}.");
    }
    let also: Vec<&str> =
        offered.clears.iter().map(String::as_str).filter(|&rule| rule != finding.rule).collect();
    if !also.is_empty() {
        said = format!("{said} It clears {} too.", listed(&also));
    }
    let leaves: Vec<&str> = offered.leaves.iter().map(String::as_str).collect();
    if !leaves.is_empty() {
        said = format!("{said} It leaves {}.", listed(&leaves));
    }
    said
}

/// No more than so many characters, the last an ellipsis where some are left out.
pub(super) fn cut(text: &str, longest: usize) -> String {
    if text.chars().count() <= longest {
        return text.to_owned();
    }
    text.chars().take(longest.saturating_sub(1)).chain(['…']).collect()
}

/// "a", "a and b", "a, b and c".
pub(super) fn listed(items: &[&str]) -> String {
    match items {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// With a capital and a full stop.
pub(super) fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let Some(first) = letters.next() else { return String::new() };
    // A pitch or dynamic at the head keeps its letter: "f here" is no "F here".
    let first_word = text.split(' ').next().unwrap_or_default();
    let is_word = first_word.chars().count() > 1 || matches!(first, 'a' | 'A' | 'i' | 'I');
    let is_mark = first_word.chars().all(|letter| matches!(letter, 'f' | 'p' | 'm'));
    let head = if is_word && !is_mark { first.to_uppercase().to_string() } else { first.to_string() };
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{head}{}{stop}", letters.as_str())
}

/// The rule's sentence, with the pass of a repeat where it matters, and with the word of it where its number is our own
/// estimate.
pub(super) fn fact(finding: &Finding) -> String {
    let mut aside = Vec::new();
    aside.extend(finding.pass.map(|pass| format!("{} time through", which_time(pass))));
    if finding.basis.is_estimate() {
        aside.push("our estimate".to_owned());
    }
    if aside.is_empty() {
        return sentence(&finding.message);
    }
    sentence(&format!("{} ({})", finding.message.trim_end_matches('.'), aside.join(", ")))
}

/// The rule alone, with the word of it where its number is our own estimate.
pub(super) fn rule_said(finding: &Finding) -> String {
    if finding.basis.is_estimate() {
        format!("{} (our estimate)", finding.rule)
    } else {
        finding.rule.clone()
    }
}

/// How hard a place is, to find the hardest: the graver; of equals one that no safe move clears, then the longer.
pub(super) fn hardness(finding: &Finding) -> (Level, bool, u32) {
    let offered = finding.octave_move.as_ref();
    let stays = offered.is_none_or(|offered| offered.standing != Standing::Safe);
    (finding.severity, stays, finding.span.sounds)
}

/// "bar 12", "bars 12–13", by their printed numbers.
pub(super) fn bars(from: &str, to: &str) -> String {
    if from == to { format!("bar {from}") } else { format!("bars {from}–{to}") }
}

/// "once", "twice", "3 times".
pub(super) fn times(count: usize) -> String {
    match count {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        many => format!("{many} times"),
    }
}

/// Which time through: "second", "5th".
fn which_time(number: u32) -> String {
    match number {
        1 => "first".to_owned(),
        2 => "second".to_owned(),
        3 => "third".to_owned(),
        4 => "fourth".to_owned(),
        many => finding::ordinal(many.into()),
    }
}

/// Fact and way out, one after the other.
pub(super) fn fact_and_way_out(finding: &Finding) -> String {
    match what_to_do(finding, false) {
        Some(way_out) => format!("{} {way_out}", fact(finding)),
        None => fact(finding),
    }
}

/// "Not judged: Flute 1, Flute 2 and Timpani."; `None` where every part was.
pub(super) fn not_judged(score: &Score) -> Option<String> {
    let names = score.passed_over.iter().map(|part| part_label(score, &part.id, &part.name));
    let names: Vec<String> = names.collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    (!names.is_empty()).then(|| format!("Not judged: {}.", listed(&names)))
}

/// A part's name, with its id where the score has none or several alike.
pub(super) fn part_label(score: &Score, id: &str, name: &str) -> String {
    let names = score.parts.iter().map(|part| (&part.id, &part.name));
    let others = score.passed_over.iter().map(|part| (&part.id, &part.name));
    if name.trim().is_empty() {
        format!("part {id}")
    } else if names.chain(others).any(|(other_id, other)| other_id != id && other == name) {
        format!("{name} ({id})")
    } else {
        name.to_owned()
    }
}

/// "Tuba, bars 12–13"; the place alone for the whole score.
pub(super) fn part_and_place(score: &Score, finding: &Finding) -> String {
    match (part_it_is_about(score, finding), where_it_stands(finding)) {
        (Some(part), place) if place.is_empty() => part,
        (Some(part), place) => format!("{part}, {place}"),
        (None, place) if place.is_empty() => "the whole score".to_owned(),
        (None, place) => place,
    }
}

/// "Tuba 1 and Tuba 2, bars 12–13": several parts at one place.
pub(super) fn parts_and_place(score: &Score, findings: &[&Finding]) -> String {
    let [first, rest @ ..] = findings else { return String::new() };
    if rest.is_empty() {
        return part_and_place(score, first);
    }
    let names: Vec<String> = findings
        .iter()
        .map(|finding| {
            let name = finding.part_name.as_deref().unwrap_or_default();
            part_label(score, finding.part.as_deref().unwrap_or_default(), name)
        })
        .collect();
    let parts = listed(&names.iter().map(String::as_str).collect::<Vec<_>>());
    match where_it_stands(first) {
        place if place.is_empty() => parts,
        place => format!("{parts}, {place}"),
    }
}

/// "bars 12–13", without the beat; `None` where it has no place.
pub(super) fn bars_it_stands_in(finding: &Finding) -> Option<String> {
    let (from, to) = ends(finding);
    let bars = if from.bar_index >= to.bar_index {
        bar(&from.bar, from.bar_index)
    } else {
        stretch(&At { beat: "1".to_owned(), ..from }, &to)
    };
    has_place(finding).then_some(bars)
}

/// The part it is about; `None` for the whole score.
pub(super) fn part_it_is_about(score: &Score, finding: &Finding) -> Option<String> {
    let name = finding.part_name.as_deref().unwrap_or_default();
    finding.part.as_ref().map(|id| part_label(score, id, name))
}

/// All of it: part, place, fact, way out.
pub(super) fn in_one_line(score: &Score, finding: &Finding) -> String {
    format!("{}: {}", part_and_place(score, finding), fact_and_way_out(finding))
}

/// Why something is let stand.
pub(super) fn why_waived(waived: &Waived) -> String {
    match (waived.by.as_str(), &waived.because) {
        (_, None) => "in the baseline".to_owned(),
        ("score", Some(words)) => format!("in the score: {words}"),
        (_, Some(because)) => format!("waived: {because}"),
    }
}

/// Totals over all scores: "2 scores · 1 error · 3 warnings · 1 waived · 23 accepted earlier (3 errors)".
pub(super) fn totals(report: &Report) -> String {
    let summary = &report.summary;
    let mut said = vec![counted(summary.scores, "score")];
    for (count, thing) in
        [(summary.error, "error"), (summary.warning, "warning"), (summary.note, "lesser remark")]
    {
        if count > 0 {
            said.push(counted(count, thing));
        }
    }
    if summary.error + summary.warning + summary.note == 0 && summary.scores > 0 {
        said.push(if summary.accepted > 0 { "nothing new" } else { "nothing to remark" }.to_owned());
    }
    said.extend(let_stand(report.scores.iter().flat_map(|score| &score.findings)));
    if summary.unread > 0 {
        said.push(format!("{} could not be read", summary.unread));
    }
    said.join(" · ")
}

/// What is let stand: "1 waived", "23 accepted earlier (3 errors)".
pub(super) fn let_stand<'a>(findings: impl Iterator<Item = &'a Finding>) -> Vec<String> {
    let_stand_as(findings, "accepted earlier")
}

/// The same for a cell of a table: "23 accepted (3 errors)".
pub(super) fn let_stand_in_short<'a>(findings: impl Iterator<Item = &'a Finding>) -> Vec<String> {
    let_stand_as(findings, "accepted")
}

fn let_stand_as<'a>(findings: impl Iterator<Item = &'a Finding>, by_baseline: &str) -> Vec<String> {
    let (mut waived, mut accepted, mut errors) = (0, 0, 0);
    for (finding, why) in findings.filter_map(|finding| Some((finding, finding.waived.as_ref()?))) {
        if why.is_accepted() {
            accepted += 1;
            errors += u32::from(finding.severity == Level::Error);
        } else {
            waived += 1;
        }
    }
    let mut said = Vec::new();
    if waived > 0 {
        said.push(format!("{waived} waived"));
    }
    match (accepted, errors) {
        (0, _) => {}
        (accepted, 0) => said.push(format!("{accepted} {by_baseline}")),
        (accepted, errors) => {
            said.push(format!("{accepted} {by_baseline} ({})", counted(errors, "error")));
        }
    }
    said
}

/// An instrument as it is read, without its article: "contrabass tuba in C".
pub(super) fn without_article(read_as: &str) -> &str {
    read_as.strip_prefix("a ").or_else(|| read_as.strip_prefix("an ")).unwrap_or(read_as)
}

/// A share in whole per cent: "38 %", "under 1 %".
pub(super) fn per_cent(share: f64) -> String {
    let hundredths = (share * 100.0).round();
    if share > 0.0 && hundredths < 1.0 { "under 1 %".to_owned() } else { format!("{hundredths:.0} %") }
}

/// What moves have done or would do, in a sentence without its stop; `None` where there are none.
pub(super) fn moves_said(score: &Score, shown: &[&Finding]) -> Option<String> {
    let revision = score.revision.as_ref()?;
    let count = |wanted: fn(&Move) -> bool| {
        u32::try_from(revision.moves.iter().filter(|made| wanted(made)).count()).unwrap_or(u32::MAX)
    };
    let made = count(|made| made.made);
    let safe = count(|made| made.standing == Standing::Safe);
    let mut said = None;
    if let Some(path) = &revision.path {
        said = Some(match made {
            0 => format!("no octave moved in {path}"),
            made => format!("{} made in {path}", counted(made, "octave move")),
        });
    } else if safe > 0 {
        said =
            Some(format!("{} {} (--fix-octaves)", counted(safe, "octave move"), would_clear(score, shown)));
    }
    match (count(|made| made.standing == Standing::Review && !made.made), said) {
        (0, said) => said,
        (1, None) => Some("1 octave move wants a look first (--include-review)".to_owned()),
        (looks, None) => Some(format!("{looks} octave moves want a look first (--include-review)")),
        (1, Some(said)) => Some(format!("{said}; 1 more wants a look first (--include-review)")),
        (looks, Some(said)) => Some(format!("{said}; {looks} more want a look first (--include-review)")),
    }
}

/// The octave moves of all scores: made, or offered; `None` where there are none.
pub(super) fn moves_in_all(report: &Report) -> Option<String> {
    let revisions = || report.scores.iter().filter_map(|score| score.revision.as_ref());
    let made = revisions().flat_map(|revision| &revision.moves).filter(|planned| planned.made).count() as u32;
    if revisions().any(|revision| revision.path.is_some()) {
        return Some(format!("{} made", counted(made, "octave move")));
    }
    let offered = report.summary.octave_moves;
    (offered > 0)
        .then(|| format!("{} offered (--fix-octaves makes the safe ones)", counted(offered, "octave move")))
}

/// What the safe moves would do for what is shown, or else for what is not.
fn would_clear(score: &Score, shown: &[&Finding]) -> String {
    let is_curable = |finding: &Finding| {
        let offered = finding.octave_move.as_ref();
        finding.waived.is_none() && offered.is_some_and(|offered| offered.standing == Standing::Safe)
    };
    let of_shown = shown.iter().filter(|finding| is_curable(finding)).count();
    let all = score.findings.iter().filter(|finding| is_curable(finding)).count();
    match (of_shown, all) {
        (0, 0) => "would help".to_owned(),
        (0, hidden) => format!("would clear {hidden} not shown"),
        (some, _) if some == shown.len() => "would clear them all".to_owned(),
        (some, _) => format!("would clear {some} of the {} shown", shown.len()),
    }
}

/// Of a long report, how often each rule spoke, the most frequent first: "215 interval-too-low · 20 hit-too-low".
pub(super) fn by_rule(shown: &[&Finding]) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for finding in shown {
        *counts.entry(&finding.rule).or_default() += 1;
    }
    let mut counts: Vec<(&str, usize)> = counts.into_iter().collect();
    counts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    counts.iter().map(|(rule, count)| format!("{count} {rule}")).collect::<Vec<_>>().join(" · ")
}

/// Errors and warnings by part, where more than one remark is of that weight: "Tuba 1: 4 warnings · Cimbasso: 1 error".
pub(super) fn by_part(score: &Score, shown: &[&Finding]) -> Option<String> {
    let heavy: Vec<&&Finding> = shown.iter().filter(|finding| finding.severity > Level::Note).collect();
    let of_part = |part: &Part| {
        let count = |level: Level| {
            let here =
                |finding: &&&&Finding| finding.severity == level && finding.is_about(&part.id, &part.name);
            heavy.iter().filter(here).count() as u32
        };
        let counts = [(count(Level::Error), "error"), (count(Level::Warning), "warning")];
        let said: Vec<String> = counts
            .iter()
            .filter(|(count, _)| *count > 0)
            .map(|(count, word)| counted(*count, word))
            .collect();
        (!said.is_empty())
            .then(|| format!("{}: {}", part_label(score, &part.id, &part.name), said.join(", ")))
    };
    let said: Vec<String> = score.parts.iter().filter_map(of_part).collect();
    (heavy.len() > 1 && !said.is_empty()).then(|| said.join(" · "))
}

/// What a part was read as: "read as contrabass tuba in C".
pub(super) fn read_as(part: &Part) -> String {
    format!("read as {}", without_article(&part.read_as))
}

/// How much a part has to do: "212 notes, D1 to F3, plays 38 % of the time".
pub(super) fn plays(part: &Part) -> String {
    let (Some(lowest), Some(highest)) = (&part.lowest, &part.highest) else {
        return "no note to play".to_owned();
    };
    let notes = counted(part.notes, "note");
    format!("{notes}, {lowest} to {highest}, plays {} of the time", per_cent(part.share))
}

/// The totals of a score, and what is not shown.
pub(super) fn closing(score: &Score, findings: &[&Finding], from: Level) -> String {
    let of = |level: Level| {
        findings.iter().filter(|finding| finding.waived.is_none() && finding.severity == level).count() as u32
    };
    let mut said = Vec::new();
    let mut hidden = 0;
    // "5 notes" would be taken for notes of the music.
    let words = [(Level::Error, "error"), (Level::Warning, "warning"), (Level::Note, "lesser remark")];
    for (level, word) in words {
        match of(level) {
            0 => {}
            count if level >= from => said.push(counted(count, word)),
            count => hidden += count,
        }
    }
    if score.parts.is_empty() && said.is_empty() {
        said.push(
            "no low-brass part recognised: nothing was judged (--as or lowbrass.toml can name one)"
                .to_owned(),
        );
    } else if said.is_empty() {
        let notes = score.parts.iter().map(|part| part.notes).sum();
        let all = format!("{}, {}", counted(score.parts.len() as u32, "part"), counted(notes, "note"));
        let nothing = if score.counts.accepted > 0 { "Nothing new" } else { "Nothing to remark" };
        said.push(format!("{nothing}: {all}"));
    }
    if hidden > 0 {
        said.push(format!("{} not shown (--min-level note)", counted(hidden, "lesser remark")));
    }
    said.extend(let_stand(findings.iter().copied()));
    said.join(" · ")
}

/// What a move does to its worst note: "D1", "D2".
pub(super) fn from_to(made: &Move) -> (String, String) {
    match (&made.before, &made.sounding) {
        (Some(before), Some(sounding)) => (before.clone(), sounding.clone()),
        _ => ("as written".to_owned(), by_octaves(made.octaves)),
    }
}

/// Why a move is made and what should be known of it.
pub(super) fn what_a_move_does(made: &Move) -> String {
    let names = |rules: &[String]| listed(&rules.iter().map(String::as_str).collect::<Vec<_>>());
    let mut said = vec![if made.clears.is_empty() {
        "keeps like passages together".to_owned()
    } else {
        format!("clears {}", names(&made.clears))
    }];
    said.extend(made.doubling.clone());
    said.extend(made.layout.as_ref().map(|layout| format!("on the page, {layout}")));
    if !made.leaves.is_empty() {
        said.push(format!("leaves {}", names(&made.leaves)));
    }
    if made.standing != Standing::Safe {
        let why = made.why_not_safe.as_deref().unwrap_or("a person should look");
        said.push(format!("{}: {why}", made.standing.word()));
    }
    said.join("; ")
}

/// Said in place of a move that was spelled out for the remark before.
pub(super) const THE_SAME_MOVE: &str = "The same move clears it.";

/// Said once below a score with remarks on breath.
pub(super) const ON_BREATH: &str =
    "Breath is reckoned for a rested adult player. Ask the player; nobody should hold out or force it.";

#[cfg(test)]
mod tests {
    use super::*;

    fn at(bar: &str, bar_index: u32, beat: &str) -> At {
        At { bar: bar.to_owned(), bar_index, beat: beat.to_owned(), beat_unit: 4 }
    }

    #[test]
    fn places_are_said_as_at_the_stand() {
        assert_eq!(place(&at("12", 11, "3")), "bar 12, beat 3");
        assert_eq!(place(&at("0", 0, "4")), "the pickup bar, beat 4");
        assert_eq!(place(&at("12a", 14, "5/2")), "bar 12a, beat 2½");
        assert_eq!(place(&at("", 7, "1")), "the unnumbered bar in place 8, beat 1");
        assert_eq!(place(&at("12", 11, "15/8")), "bar 12, last 32nd of beat 1");
    }

    #[test]
    fn a_stretch_says_no_more_than_is_needed() {
        assert_eq!(stretch(&at("12", 11, "3"), &at("12", 11, "3")), "bar 12, beat 3");
        assert_eq!(stretch(&at("12", 11, "1"), &at("12", 11, "7/2")), "bar 12, beats 1–3");
        assert_eq!(stretch(&at("12", 11, "1"), &at("12", 11, "15/8")), "bar 12, beat 1");
        assert_eq!(stretch(&at("12", 11, "3/2"), &at("12", 11, "7/4")), "bar 12, beat 1½");
        assert_eq!(stretch(&at("12", 11, "11/4"), &at("12", 11, "15/4")), "bar 12, beats 2–3");
        assert_eq!(
            stretch(&at("12", 11, "11/4"), &at("13", 12, "1")),
            "bars 12–13, from the last 16th of beat 2"
        );
        assert_eq!(stretch(&at("12", 11, "1"), &at("13", 12, "4")), "bars 12–13");
        assert_eq!(stretch(&at("12", 11, "3"), &at("14", 13, "1")), "bars 12–14, from beat 3");
        assert_eq!(stretch(&at("0", 0, "4"), &at("2", 2, "1")), "the pickup bar to bar 2, from beat 4");
    }

    #[test]
    fn a_long_text_is_cut_by_characters() {
        assert_eq!(cut(&"♭".repeat(11), 10).chars().count(), 10);
        assert_eq!(cut(&"♭".repeat(10), 10), "♭".repeat(10));
    }

    #[test]
    fn octaves_are_counted_in_words() {
        assert_eq!(by_octaves(1), "up an octave");
        assert_eq!(by_octaves(-2), "down two octaves");
    }

    #[test]
    fn a_clause_becomes_a_sentence() {
        assert_eq!(sentence("keeps the octave with the basses"), "Keeps the octave with the basses.");
        assert_eq!(sentence("ff on D1 will not come"), "ff on D1 will not come.");
        assert_eq!(sentence("Bb0 is an effect."), "Bb0 is an effect.");
        assert_eq!(sentence(""), "");
    }
}
