//! Levels, attacks and hairpins at notes, from the marks and words around them.

use crate::music::Dynamic;
use crate::musicxml::testing::{bar, bars, direction, note};
use crate::score::{Note, Part};

/// Level, "!" and attack, ">" and level at the end, "<" or "-" under a hairpin.
fn shape(note: &Note) -> String {
    let letters = |dynamic: Option<Dynamic>| dynamic.map_or("?", Dynamic::letters);
    let attack = note.attack.map(|attack| format!("!{attack}")).unwrap_or_default();
    let until = note.until.map(|until| format!(">{until}")).unwrap_or_default();
    let hairpin = match note.hairpin {
        Some(crate::music::Hairpin::Crescendo) => "<",
        Some(crate::music::Hairpin::Diminuendo) => "-",
        None => "",
    };
    format!("{}{attack}{until}{hairpin}", letters(note.dynamic))
}

fn shapes(part: &Part) -> Vec<String> {
    part.notes.iter().map(shape).collect()
}

fn mark(letters: &str) -> String {
    direction(&format!("<dynamics>{letters}</dynamics>"))
}

fn wedge(attributes: &str) -> String {
    direction(&format!("<wedge {attributes}/>"))
}

#[track_caller]
fn shaped(pieces: &[String]) -> Vec<String> {
    shapes(&bar(&pieces.concat()))
}

fn c() -> String {
    note("C2", 4, "")
}

#[test]
fn a_mark_holds_to_the_next_and_before_it_nothing_is_known() {
    assert_eq!(shaped(&[c(), mark("<p/>"), c(), c(), mark("<ff/>"), c()]), ["?", "p", "p", "ff"]);
}

#[test]
fn the_bar_that_set_a_level_is_known_and_a_hairpin_sets_none() {
    let part = bars(&[
        &*[mark("<p/>"), c(), mark("<sf/>"), c()].concat(),
        &*[c(), wedge("type='crescendo'"), c(), c(), wedge("type='stop'"), c()].concat(),
        &*[mark("<p/>"), c(), direction("<words>più f</words>"), c()].concat(),
    ]);
    let set: Vec<Option<u32>> = part.notes.iter().map(|note| note.marked_in).collect();
    assert_eq!(shapes(&part), ["p", "p!f", "p", "p<", "p>mp<", "mp", "p", "f"]);
    assert_eq!(set, [Some(0), Some(0), Some(0), Some(0), Some(0), None, Some(2), Some(2)]);
}

#[test]
fn forced_marks_are_an_attack_on_their_own_note_only() {
    let levels = shaped(&[mark("<p/>"), c(), mark("<sf/>"), c(), mark("<s/><fp/>"), c(), c()]);
    assert_eq!(levels, ["p", "p!f", "p!f", "p"]);
}

#[test]
fn a_hairpin_leads_to_the_mark_at_its_end() {
    let pieces =
        [mark("<p/>"), wedge("type='crescendo'"), c(), c(), c(), wedge("type='stop'"), mark("<f/>"), c()];
    // p to f are three marks over three beats.
    assert_eq!(shaped(&pieces), ["p>mp<", "mp>mf<", "mf>f<", "f"]);
}

#[test]
fn a_hairpin_without_a_mark_leads_one_mark_on() {
    let pieces = [mark("<f/>"), wedge("type='diminuendo'"), c(), c(), wedge("type='stop'"), c()];
    assert_eq!(shaped(&pieces), ["f-", "f>mf-", "mf"]);
}

#[test]
fn a_mark_against_the_hairpin_is_no_goal_of_it() {
    let pieces = [mark("<f/>"), wedge("type='crescendo'"), c(), wedge("type='stop'"), mark("<p/>"), c()];
    assert_eq!(shaped(&pieces), ["f>ff<", "p"]);
}

#[test]
fn a_mark_within_a_hairpin_cuts_it_in_two() {
    let pieces = [
        mark("<p/>"),
        wedge("type='crescendo'"),
        c(),
        mark("<mf/>"),
        c(),
        wedge("type='stop'"),
        mark("<ff/>"),
        c(),
    ];
    assert_eq!(shaped(&pieces), ["p>mf<", "mf>ff<", "ff"]);
}

#[test]
fn a_hairpin_may_begin_and_end_under_one_note() {
    let content = format!(
        "{}{}<forward><duration>8</duration></forward>{}<forward><duration>8</duration></forward>{}<backup><duration>16</duration></backup>{}",
        mark("<p/>"),
        "",
        wedge("type='crescendo'"),
        wedge("type='stop'"),
        note("C2", 16, "")
    );
    assert_eq!(shapes(&bar(&content)), ["p>mp<"]);
}

#[test]
fn into_silence_is_very_soft_and_the_level_comes_back() {
    let pieces = [
        mark("<p/>"),
        wedge("type='diminuendo'"),
        c(),
        c(),
        wedge("type='stop' niente='yes'"),
        c(),
        wedge("type='crescendo' niente='yes'"),
        c(),
        wedge("type='stop'"),
        mark("<f/>"),
    ];
    assert_eq!(shaped(&pieces), ["p>pp-", "pp>ppp-", "p", "ppp>f<"]);
}

#[test]
fn the_letter_n_makes_the_hairpin_beside_it_one_of_silence() {
    let pieces = [
        mark("<p/>"),
        wedge("type='diminuendo'"),
        c(),
        c(),
        wedge("type='stop'"),
        mark("<n/>"),
        c(),
        mark("<n/>"),
        wedge("type='crescendo'"),
        c(),
        wedge("type='stop'"),
        mark("<f/>"),
    ];
    assert_eq!(shaped(&pieces), ["p>pp-", "pp>ppp-", "p", "ppp>f<"]);
}

#[test]
fn a_lone_mark_is_for_all_voices_and_marks_side_by_side_are_for_their_own() {
    let mark = |letters: &str, voice: &str| {
        format!(
            "<direction><direction-type><dynamics>{letters}</dynamics></direction-type><voice>{voice}</voice></direction>"
        )
    };
    let back = "<backup><duration>4</duration></backup>".to_owned();
    let voice = |voice: &str| note("C2", 4, &format!("<voice>{voice}</voice>"));
    let lone = [mark("<p/>", "1"), voice("1"), back.clone(), voice("2")];
    assert_eq!(shaped(&lone), ["p", "p"]);
    let both = [mark("<p/>", "1"), voice("1"), back, mark("<f/>", "2"), voice("2")];
    assert_eq!(shaped(&both), ["p", "f"]);
}

#[test]
fn a_mark_for_a_staff_leaves_the_others_alone() {
    let mark =
        "<direction><direction-type><dynamics><p/></dynamics></direction-type><staff>2</staff></direction>";
    let pieces = [mark.to_owned(), note("C4", 4, ""), note("C2", 4, "<staff>2</staff>")];
    assert_eq!(shaped(&pieces), ["?", "p"]);
}

#[test]
fn an_offset_moves_the_mark() {
    let moved =
        "<direction><direction-type><dynamics><f/></dynamics></direction-type><offset>4</offset></direction>";
    assert_eq!(shaped(&[mark("<p/>"), moved.to_owned(), c(), c()]), ["p", "f"]);
}

#[test]
fn a_mark_among_the_notations_counts_like_one_above_the_staff() {
    let pieces = [note("C2", 4, "<notations><dynamics><fp/></dynamics></notations>"), c()];
    assert_eq!(shaped(&pieces), ["p!f", "p"]);
}

#[test]
fn sound_dynamics_count_only_where_no_mark_rules() {
    let sound = "<sound dynamics='106.67'/>".to_owned();
    assert_eq!(shaped(&[sound.clone(), c(), mark("<p/>"), c(), sound, c()]), ["f", "p", "p"]);
}

/// A direction with these between its marks: `<o>` is `other-dynamics`, `<w>` is `words`, `<d>` is `dynamics`.
fn spelled(inside: &str) -> String {
    let inside = inside.replace("o>", "other-dynamics>").replace("w>", "words>").replace("d>", "dynamics>");
    let kinds = inside.replace("><words", "></direction-type><direction-type><words");
    let kinds = kinds.replace("words><dynamics", "words></direction-type><direction-type><dynamics");
    direction(&kinds)
}

/// What a direction makes of the note under it, where mp was in force before.
fn under(inside: &str) -> String {
    let part = bar(&[mark("<mp/>"), c(), spelled(inside), c()].concat());
    shape(&part.notes[1])
}

/// Every arrangement of letters, words and brackets that we could think of, and seen in real scores; each level worked out
/// by hand from what the page would show. Level, "!" and attack.
#[test]
fn a_level_is_read_wherever_its_letters_stand() {
    let table = [
        // Elements alone, and several as one mark.
        ("<d><pppppp/></d>", "pppppp"),
        ("<d><ppp/></d>", "ppp"),
        ("<d><pp/></d>", "pp"),
        ("<d><p/></d>", "p"),
        ("<d><mf/></d>", "mf"),
        ("<d><f/></d>", "f"),
        ("<d><ff/></d>", "ff"),
        ("<d><fff/></d>", "fff"),
        ("<d><ffff/></d>", "ffff"),
        ("<d><pf/></d>", "f"),
        ("<d><sf/></d>", "mp!f"),
        ("<d><sfz/></d>", "mp!f"),
        ("<d><sffz/></d>", "mp!ff"),
        ("<d><fz/></d>", "mp!f"),
        ("<d><rf/></d>", "mp!f"),
        ("<d><rfz/></d>", "mp!f"),
        ("<d><fp/></d>", "p!f"),
        ("<d><sfp/></d>", "p!f"),
        ("<d><sfpp/></d>", "pp!f"),
        ("<d><sfzp/></d>", "p!f"),
        ("<d><sf/><mp/></d>", "mp!f"),
        ("<d><s/><fp/></d>", "p!f"),
        ("<d><f/><p/></d>", "p!f"),
        ("<d><p/><sf/></d>", "p!f"),
        ("<d><mf/><sfz/></d>", "mf!f"),
        ("<d><ff/><sf/></d>", "ff!f"),
        // other-dynamics behind the mark.
        ("<d><ff/><o> marc.</o></d>", "ff"),
        ("<d><ff/><o>marc.</o></d>", "ff"),
        ("<d><ff/><o>  sec</o></d>", "ff"),
        ("<d><p/><o>\u{a0}dolce</o></d>", "p"),
        ("<d><p/><o>  de la pointe,  léger</o></d>", "p"),
        ("<d><pp/><o>  pas trop serré</o></d>", "pp"),
        ("<d><p/><o>  subito  </o></d>", "p"),
        ("<d><pp/><o>  sub.</o></d>", "pp"),
        ("<d><f/><o> sempre e passionato</o></d>", "f"),
        ("<d><f/><o> possibile</o></d>", "f"),
        ("<d><fff/><o> con tutta forza</o></d>", "fff"),
        ("<d><sf/><o>  sec</o></d>", "mp!f"),
        ("<d><sfp/><o>  léger</o></d>", "p!f"),
        ("<d><mf/><o>\u{e536}</o></d>", "mf!f"),
        ("<d><f/><o> ma non troppo</o></d>", "f"),
        ("<d><p/><o>, but with a full sound that carries to the very last row of the hall</o></d>", "p"),
        ("<d><p/><o> 2nd time</o></d>", "p"),
        // Before it.
        ("<d><o>sempre </o><ff/></d>", "ff"),
        ("<d><o>sempre</o><pp/></d>", "pp"),
        ("<d><o>poco </o><f/></d>", "f"),
        ("<d><o>più </o><f/></d>", "f"),
        ("<d><o>meno </o><f/></d>", "f"),
        ("<d><o>più</o><p/></d>", "p"),
        ("<d><o>un poco</o><mf/></d>", "mf"),
        ("<d><o>mezzo</o><f/></d>", "mf"),
        ("<d><o>mezzo</o><p/></d>", "mp"),
        ("<d><o>subito</o><p/></d>", "p"),
        ("<d><o>with weight, </o><ff/></d>", "ff"),
        ("<d><o>m</o><f/></d>", "mf"),
        ("<d><o>s</o><f/></d>", "mp!f"),
        // On both sides.
        ("<d><o>sempre</o><ff/><o>e marc.</o></d>", "ff"),
        ("<d><o>[</o><mp/><o>]</o></d>", "mp"),
        ("<d><o>[</o><ppp/><o>]</o></d>", "ppp"),
        ("<d><o>[ </o><f/><o> ]</o></d>", "f"),
        ("<d><o>(</o><f/><o>)</o></d>", "f"),
        ("<d><o>“</o><f/><o>”</o></d>", "f"),
        ("<d><o>(sempre </o><pp/><o>)</o></d>", "pp"),
        // In other-dynamics alone.
        ("<d><o>ff</o></d>", "ff"),
        ("<d><o>FF</o></d>", "ff"),
        ("<d><o>F</o></d>", "f"),
        ("<d><o>P</o></d>", "p"),
        ("<d><o>Mf</o></d>", "mf"),
        ("<d><o>[ff]</o></d>", "ff"),
        ("<d><o>(p)</o></d>", "p"),
        ("<d><o>ff marc.</o></d>", "ff"),
        ("<d><o>sempre ff</o></d>", "ff"),
        ("<d><o>p dolce</o></d>", "p"),
        ("<d><o>più f</o></d>", "f"),
        ("<d><o>p espr. ma con molto calore e sempre in fuori</o></d>", "p"),
        ("<d><o>sffz</o></d>", "mp!ff"),
        ("<d><o>ffp</o></d>", "p!ff"),
        ("<d><o>sfmp</o></d>", "mp!f"),
        ("<d><o>mezzo-forte</o></d>", "mf"),
        ("<d><o>forte</o></d>", "f"),
        ("<d><o>Piano</o></d>", "p"),
        ("<d><o>piu forte</o></d>", "mf"),
        ("<d><o>meno forte</o></d>", "p"),
        // Glyphs.
        ("<d><other-dynamics smufl='dynamicForte'/></d>", "f"),
        ("<d><other-dynamics smufl='dynamicMF'>?</other-dynamics></d>", "mf"),
        ("<d><other-dynamics smufl='dynamicSforzato'/></d>", "mp!f"),
        ("<d><other-dynamics smufl='dynamicMezzo'/><other-dynamics smufl='dynamicForte'/></d>", "mf"),
        ("<d><o>\u{e52f}</o></d>", "ff"),
        ("<d><o>\u{e520}\u{e520}</o></d>", "pp"),
        ("<d><o>\u{1d190}\u{1d191}</o></d>", "mf"),
        ("<symbol>dynamicFFF</symbol>", "fff"),
        ("<symbol>segno</symbol>", "mp"),
        // Words.
        ("<w>f</w>", "f"),
        ("<w>\u{1d191}\u{1d191}</w>", "ff"),
        ("<w>(mf)</w>", "mf"),
        ("<w>[ ff ]</w>", "ff"),
        ("<w>FF</w>", "ff"),
        ("<w>MP</w>", "mp"),
        ("<w>sempre ff</w>", "ff"),
        ("<w>ff marc.</w>", "ff"),
        ("<w>p dolce</w>", "p"),
        ("<w>più f</w>", "f"),
        ("<w>più forte</w>", "mf"),
        ("<w>Tutti ff</w>", "ff"),
        ("<w>Maestoso ff</w>", "ff"),
        // Words and marks in one direction.
        ("<w>sempre</w><d><ff/></d>", "ff"),
        ("<w>più</w><d><f/></d>", "f"),
        ("<w>meno</w><d><f/></d>", "f"),
        ("<w>subito </w><d><p/></d>", "p"),
        ("<d><ff/></d><w> marc.</w>", "ff"),
        ("<d><p/></d><w>dolce</w>", "p"),
        ("<d><f/></d><w>2nd time only</w>", "f"),
        ("<w>[</w><d><mp/></d><w>]</w>", "mp"),
        ("<w>con sord. </w><d><pp/></d>", "pp"),
        ("<w>Solo</w><d><mf/></d><w>espr.</w>", "mf"),
        ("<d><p/></d><w>cresc.</w>", "p>mp<"),
        ("<w>cresc.</w><d><p/></d>", "p>mp<"),
        ("<w>dim. al</w><d><pp/></d>", "mp>pp-"),
        // What says nothing of a level.
        ("<d><o>dolce</o></d>", "mp"),
        ("<d><o>  chanté doux</o></d>", "mp"),
        ("<d><o>léger</o></d>", "mp"),
        ("<w>F</w>", "mp"),
        ("<w>in F</w>", "mp"),
        ("<w>più</w>", "mp"),
        ("<d><o/></d>", "mp"),
        ("<d/>", "mp"),
    ];
    let wrong: Vec<String> = table
        .iter()
        .filter(|(inside, expected)| under(inside) != *expected)
        .map(|(inside, expected)| format!("{inside}: expected {expected}, read {}", under(inside)))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn words_and_marks_of_several_directions_at_one_place_do_not_hinder_each_other() {
    let words = |text: &str| direction(&format!("<words>{text}</words>"));
    assert_eq!(shaped(&[mark("<p/>"), c(), words("più"), mark("<f/>"), c()]), ["p", "f"]);
    assert_eq!(shaped(&[mark("<p/>"), c(), mark("<ff/>"), words("sempre"), c()]), ["p", "ff"]);
}

#[test]
fn a_mark_ends_a_hairpin_made_of_words_whatever_its_dashes_say() {
    let word = |text: &str, more: &str| {
        format!("<direction><direction-type><words>{text}</words></direction-type>{more}</direction>")
    };
    let begin = "<direction-type><dashes type='start'/></direction-type>";
    let stop = direction("<dashes type='stop'/>");
    let pieces = [mark("<p/>"), word("cresc.", begin), c(), mark("<f/>"), c(), c(), stop.clone(), c()];
    // p to f in one beat; then f without a hairpin.
    assert_eq!(shaped(&pieces), ["p>f<", "f", "f", "f"]);
    let pieces = [mark("<p/>"), word("cresc.", begin), c(), c(), stop, c(), c()];
    assert_eq!(shaped(&pieces), ["p<", "p>mp<", "mp", "mp"]);
}

#[test]
fn the_end_of_dashes_closes_its_own_word_and_revives_none() {
    let word = |text: &str, more: &str| {
        format!("<direction><direction-type><words>{text}</words></direction-type>{more}</direction>")
    };
    let dashes = |kind: &str, number: u8| {
        format!("<direction-type><dashes type='{kind}' number='{number}'/></direction-type>")
    };
    let stop = |number: u8| format!("<direction>{}</direction>", dashes("stop", number));
    // The dashes are those of "rit.": the dim., long ended by its mark, stays so.
    let pieces = [
        mark("<f/>"),
        word("dim.", ""),
        c(),
        mark("<p/>"),
        c(),
        word("rit.", &dashes("start", 1)),
        c(),
        stop(1),
        c(),
    ];
    assert_eq!(shaped(&pieces), ["f>p-", "p", "p", "p"]);
    // Two words with dashes of their own.
    let pieces = [
        mark("<p/>"),
        word("cresc.", &dashes("start", 1)),
        c(),
        stop(1),
        c(),
        word("dim.", &dashes("start", 2)),
        c(),
        stop(2),
        c(),
    ];
    assert_eq!(shaped(&pieces), ["p>mp<", "mp", "mp>p-", "p"]);
    // A stop without a beginning.
    assert_eq!(
        shaped(&[mark("<p/>"), word("cresc.", ""), c(), stop(3), c(), mark("<f/>"), c()]),
        // p to f in two beats: half-way lies one mark and a half on.
        ["p>mp<", "mp>f<", "f"]
    );
}
