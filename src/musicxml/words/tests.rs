//! One table a kind of word: what each text means, and what must not be read into it.

use super::*;
use crate::score::{Mute, Players};

/// The meanings of a `words` text.
fn said(text: &str) -> Vec<Meaning> {
    let mut phrase = Phrase::default();
    phrase.push_words(text);
    read(&phrase)
}

/// The meanings of a text in short: `f`, `f>p` (attack, level), `+1 f`, `cresc>ff`, `dim>n`, `tempo 96` …
fn short(text: &str) -> String {
    let show = |meaning: &Meaning| match meaning {
        Meaning::Dynamic(mark) => mark_in_short(*mark),
        Meaning::Relative { steps, named } => {
            format!("{steps:+}{}", named.map_or(String::new(), |named| format!(" {named}")))
        }
        Meaning::FirstAndAgain(first, again) => {
            format!("{} then {}", mark_in_short(*first), mark_in_short(*again))
        }
        Meaning::Niente => "niente".to_owned(),
        Meaning::Hairpin { direction, to, niente } => {
            let word = if *direction == Hairpin::Crescendo { "cresc" } else { "dim" };
            let to = to.map_or(String::new(), |to| format!(">{to}"));
            format!("{word}{to}{}", if *niente { ">n" } else { "" })
        }
        Meaning::Tempo(word, _) => match word {
            TempoWord::Number(tempo) => format!("tempo {}", tempo.get()),
            TempoWord::Modulation(factor) => format!("times {factor}"),
            TempoWord::Multiple(factor) => format!("{factor} times"),
            TempoWord::Same { .. } => "same beat".to_owned(),
            TempoWord::Customary { tempo, soft: false } => format!("about {}", tempo.get()),
            TempoWord::Customary { tempo, soft: true } => format!("perhaps {}", tempo.get()),
            TempoWord::AtOnce(share) => format!("at once {share:.2}"),
            TempoWord::Gradual(share) => format!("gradual {share:.2}"),
            TempoWord::ATempo => "a tempo".to_owned(),
            TempoWord::TempoPrimo => "tempo I".to_owned(),
        },
        Meaning::Asks(Asks::Mute(None)) => "open".to_owned(),
        Meaning::Asks(Asks::Mute(Some(mute))) => mute.name().to_owned(),
        Meaning::Asks(Asks::Instrument(name)) => format!("instrument '{name}'"),
        Meaning::Asks(Asks::Named(_)) => unreachable!("left out above"),
        Meaning::Asks(Asks::InstrumentOfOne(player, name)) => format!("player {player} instrument '{name}'"),
        Meaning::Asks(Asks::Players(Players::All)) => "all".to_owned(),
        Meaning::Asks(Asks::Players(Players::Divided)) => "divided".to_owned(),
        Meaning::Asks(Asks::Players(Players::Only(player))) => format!("player {player}"),
        Meaning::Asks(Asks::Flutter(on)) => (if *on { "flutter" } else { "plain" }).to_owned(),
        Meaning::Asks(Asks::LipGlissando) => "lip".to_owned(),
        Meaning::Asks(Asks::Sing(on)) => (if *on { "sing" } else { "play" }).to_owned(),
        Meaning::Asks(Asks::Stagger) => "stagger".to_owned(),
        Meaning::Asks(Asks::Effect) => "effect".to_owned(),
        Meaning::Asks(Asks::Waive(rules)) => format!("ok {}", rules.join("+")),
        Meaning::Jump(jump) => format!("{jump:?}"),
    };
    let says = |meaning: &&Meaning| !matches!(meaning, Meaning::Asks(Asks::Named(_)));
    said(text).iter().filter(says).map(show).collect::<Vec<_>>().join(", ")
}

fn mark_in_short(mark: Mark) -> String {
    match (mark.attack, mark.level) {
        (None, Some(level)) => level.to_string(),
        (Some(attack), None) => format!("{attack}!"),
        (Some(attack), Some(level)) => format!("{attack}!{level}"),
        (None, None) => String::new(),
    }
}

#[track_caller]
fn table(rows: &[(&str, &str)]) {
    let wrong: Vec<String> = rows
        .iter()
        .filter(|(text, expected)| short(text) != *expected)
        .map(|(text, expected)| format!("'{text}': expected '{expected}', read '{}'", short(text)))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn dynamics_in_words_are_read() {
    table(&[
        ("f", "f"),
        ("(mf)", "mf"),
        ("[ pp ]", "pp"),
        ("“f”", "f"),
        ("subito p", "p"),
        ("p sub.", "p"),
        ("sempre ff", "ff"),
        ("ff sempre", "ff"),
        ("f marc.", "f"),
        ("pp dolcissimo e legato", "pp"),
        ("f ma non troppo", "f"),
        ("sfz", "f!"),
        ("sffz", "ff!"),
        ("fp", "f!p"),
        ("mezzo forte", "mf"),
        ("Fortissimo", "ff"),
        ("forte", "f"),
        ("sempre pianissimo", "pp"),
        ("poco f", "f"),
        ("mezzo f", "mf"),
        ("m.f.", "mf"),
        ("MF", "mf"),
        ("FF!", "ff"),
        ("[PP]", "pp"),
        ("Sfz", "f!"),
        ("sempre F", "f"),
        ("P sub.", "p"),
        ("\u{e52f}", "ff"),
        ("\u{1d18f}\u{1d18f} dolce", "pp"),
        ("mf \u{e536}", "f!mf"),
        ("f-p", "f then p"),
        ("p – f", "p then f"),
        ("p très léger et doux de la pointe", "p"),
        ("poco p", "p"),
        ("il più f possibile", "f"),
        ("1. p", "player 1, p"),
        ("I. p", "player 1, p"),
        ("solo mf", "player 1, mf"),
        ("with great weight, ff", "ff"),
    ]);
}

#[test]
fn letters_in_sentences_are_no_dynamics() {
    table(&[
        ("Piano", ""),
        ("(Piano)", ""),
        ("F", ""),
        ("Section F", ""),
        ("letter f", ""),
        ("p. 12", ""),
        ("see p 12 of the score", ""),
        ("play f only when the horns do not", ""),
        ("in f", ""),
        ("2nd time p", ""),
        ("p 1st x, f 2nd x", ""),
        ("forte piano pedal", ""),
        ("Flute", ""),
        ("P", ""),
        ("Pf.", ""),
        ("ms: lig. c.o.p.", ""),
        ("c. p.", ""),
        ("Solo P", ""),
        ("al F", ""),
        ("", ""),
        ("   ", ""),
        ("–", ""),
        ("fr.", ""),
    ]);
}

#[test]
fn letters_count_and_words_compare_with_what_went_before() {
    table(&[
        ("più f", "f"),
        ("piu\u{300} f", "f"),
        ("più p", "p"),
        ("meno f", "f"),
        ("meno p", "p"),
        ("poco più f", "f"),
        ("più forte", "+1 f"),
        ("un poco più forte", "+1 f"),
        ("meno forte", "-1 f"),
        ("più piano", "-1 p"),
        ("meno piano", "+1 p"),
        ("poco forte", "f"),
        ("sempre più f", "cresc>f"),
        ("sempre più p", "dim>p"),
        ("più", ""),
        ("meno", ""),
        ("poco più", ""),
        ("louder", "+1"),
        ("leiser", "-1"),
        ("plus fort", "+1"),
        ("a little softer", ""),
        ("niente", "niente"),
        ("al niente", "niente"),
    ]);
}

#[test]
fn hairpins_in_words_are_read_with_where_they_lead() {
    table(&[
        ("cresc.", "cresc"),
        ("Crescendo", "cresc"),
        ("cresc. poco a poco", "cresc"),
        ("poco a poco cresc.", "cresc"),
        ("cresc. al ff", "cresc>ff"),
        ("cresc. molto - - - f", "cresc>f"),
        ("p cresc.", "p, cresc"),
        ("p cresc. f", "p, cresc>f"),
        ("dim.", "dim"),
        ("decresc.", "dim"),
        ("dim. al niente", "dim>n"),
        ("diminuendo al pp", "dim>pp"),
        ("morendo", "gradual 0.80, dim>n"),
        ("ersterbend", "dim>n"),
        ("en diminuant", "dim"),
        ("non dim.", ""),
        ("senza cresc.", ""),
        ("dim. e rit.", "dim, gradual 0.75"),
        ("calando", "gradual 0.80, dim"),
        ("crescendoing", ""),
    ]);
}

#[test]
fn tempo_words_in_four_languages_have_their_customary_tempo() {
    table(&[
        ("Allegro", "about 132"),
        ("Allegro moderato", "about 120"),
        ("Molto allegro", "about 144"),
        ("Andante con moto", "about 92"),
        ("Poco adagio", "about 72"),
        ("Largo e mesto", "about 50"),
        ("Sehr langsam", "about 46"),
        ("Mäßig", "about 100"),
        ("Ziemlich schnell", "about 126"),
        ("Très vif", "about 172"),
        ("Modéré", "about 104"),
        ("Slowly", "perhaps 60"),
        ("Moderately fast", "perhaps 116"),
        ("Maestoso", "perhaps 84"),
        ("Tempo di marcia", "about 112"),
        ("Allegro (♩ = 140)", "tempo 140"),
    ]);
}

#[test]
fn words_that_say_how_to_play_are_no_tempo() {
    table(&[
        ("slow vibrato", ""),
        ("fast tonguing", ""),
        ("quick mute change", ""),
        ("maestoso", ""),
        ("broadly", ""),
        ("allegro", ""),
        ("Large gong", ""),
        ("Strings", ""),
        ("string quartet", ""),
        ("senza rit.", ""),
        ("Half-time feel", ""),
        ("double-time feel", ""),
        ("half time score 2:1", ""),
        ("tempo ad lib.", ""),
        ("Marching band only", ""),
    ]);
}

#[test]
fn changes_of_tempo_in_words_are_read() {
    table(&[
        ("rit.", "gradual 0.75"),
        ("poco rit.", "gradual 0.88"),
        ("molto rit.", "gradual 0.60"),
        ("rit. molto", "gradual 0.60"),
        ("poco a poco rallentando", "gradual 0.75"),
        ("accel.", "gradual 1.25"),
        ("stringendo", "gradual 1.25"),
        ("string.", "gradual 1.20"),
        ("zurückhaltend", "gradual 0.75"),
        ("Cédez", "gradual 0.75"),
        ("en animant", "gradual 1.20"),
        ("Meno mosso", "at once 0.85"),
        ("poco meno mosso", "at once 0.93"),
        ("un poco più mosso", "at once 1.07"),
        ("doppio movimento", "2 times"),
        ("Half time", "0.5 times"),
        ("(double time)", "2 times"),
        ("twice as slow", "0.5 times"),
        ("doppelt so langsam", "0.5 times"),
        ("deux fois plus lent", "0.5 times"),
        ("L'istesso tempo", "same beat"),
        ("Lo stesso tempo", "same beat"),
        ("langsamer", "at once 0.85"),
        ("Plus vite", "at once 1.15"),
        ("a tempo", "a tempo"),
        ("(A tempo)", "a tempo"),
        ("a tempo, poco meno mosso", "a tempo, at once 0.93"),
        ("Tempo I", "tempo I"),
        ("Tempo primo (Allegro)", "tempo I"),
        ("1er mouvement", "tempo I"),
        ("im Zeitmaß", "a tempo"),
        ("ritmico", ""),
        ("rite", ""),
    ]);
}

#[test]
fn tempos_in_figures_are_read() {
    table(&[
        ("♩ = 96", "tempo 96"),
        ("♩=c. 120", "tempo 120"),
        ("(♩. = 60)", "tempo 90"),
        ("𝅗𝅥 = 60", "tempo 120"),
        ("\u{eca5} = 72", "tempo 72"),
        ("dotted quarter = 60", "tempo 90"),
        ("Swing, 140 bpm", "tempo 140"),
        ("♪ = ♩", "times 2"),
        ("♩ = ♩.", "times 1.5"),
        ("= 120", ""),
        ("♩ = x", ""),
        ("A = 442", ""),
    ]);
}

#[test]
fn mutes_go_in_in_five_languages() {
    table(&[
        ("con sord.", "straight"),
        ("con sordino", "straight"),
        ("Con sordini", "straight"),
        ("c. sord.", "straight"),
        ("sord.", "straight"),
        ("mit Dämpfer", "straight"),
        ("mit Daempfer", "straight"),
        ("Dämpfer auf", "straight"),
        ("gedämpft", "straight"),
        ("avec sourdine", "straight"),
        ("mettez les sourdines", "straight"),
        ("sourdine", "straight"),
        ("Sourd.", "straight"),
        ("con sordina", "straight"),
        ("poner sordina", "straight"),
        ("muted", "straight"),
        ("mute in", "straight"),
        ("with mute", "straight"),
        ("mute", "straight"),
        ("straight mute", "straight"),
        ("st. mute", "straight"),
        ("to straight mute", "straight"),
        ("cup mute in", "cup"),
        ("in cup", "cup"),
        ("(cup)", "cup"),
        ("con sord. (cup)", "cup"),
        ("harmon mute, stem out", "harmon"),
        ("Harmon", "harmon"),
        ("plunger", "plunger"),
        ("bucket mute", "bucket"),
        ("solotone", "solotone"),
        ("solo tone mute", "solotone"),
        ("in hat", "derby"),
        ("derby", "derby"),
        ("pixie mute", "pixie"),
        ("practice mute", "practice"),
        ("Übedämpfer", "practice"),
        ("f con sord.", "f, straight"),
        ("1. con sord.", "player 1, straight"),
    ]);
}

#[test]
fn mutes_come_out_in_five_languages() {
    table(&[
        ("senza sord.", "open"),
        ("s. sord.", "open"),
        ("via sord.", "open"),
        ("via sordini", "open"),
        ("ohne Dämpfer", "open"),
        ("Dämpfer weg", "open"),
        ("Dämpfer ab", "open"),
        ("offen", "open"),
        ("sans sourdine", "open"),
        ("ôtez la sourdine", "open"),
        ("Ôtez les sourdines", "open"),
        ("ouvert", "open"),
        ("sin sordina", "open"),
        ("quitar la sordina", "open"),
        ("open", "open"),
        ("(open)", "open"),
        ("Open.", "open"),
        ("mute out", "open"),
        ("mute off", "open"),
        ("remove mute", "open"),
        ("take mute out", "open"),
        ("no mute", "open"),
        ("unmuted", "open"),
        ("levare la sordina", "open"),
        ("remove harmon", "open"),
    ]);
}

#[test]
fn what_only_looks_like_a_mute_is_none() {
    table(&[
        ("open string", ""),
        ("open repeat", ""),
        ("open solo", ""),
        ("straight", ""),
        ("straight 8ths", ""),
        ("a cup of tea", ""),
        ("hat", ""),
        ("prepare cup mute", ""),
        ("mute ready", ""),
        ("2nd time muted", ""),
        ("con sord. 2nd x only", ""),
        ("strings con sord.", "straight"),
        ("practice", ""),
        ("st.", ""),
        ("muted trumpets enter", ""),
    ]);
}

#[test]
fn another_instrument_is_named_as_it_stands() {
    table(&[
        ("muta in Tuba in F", "instrument 'Tuba in F'"),
        ("Muta in Euph.", "instrument 'Euph.'"),
        ("take Euphonium", "instrument 'Euphonium'"),
        ("Take the F tuba", "instrument 'F tuba'"),
        ("to Cimbasso", "instrument 'Cimbasso'"),
        ("To Bass Tbn.", "instrument 'Bass Tbn.'"),
        ("nimmt Basstuba", "instrument 'Basstuba'"),
        ("2. nimmt Tenortuba", "player 2 instrument 'Tenortuba'"),
        ("2. muta in Tuba", "player 2 instrument 'Tuba'"),
        ("II muta in Cimbasso", "player 2 instrument 'Cimbasso'"),
        ("2nd player change to Euphonium", "player 2 instrument 'Euphonium'"),
        ("1. e 2. mutano in Tube", "instrument 'Tube'"),
        ("wechselt zur Kontrabassposaune", "instrument 'Kontrabassposaune'"),
        ("prenez le tuba basse", "instrument 'tuba basse'"),
        ("change en saxhorn basse", "instrument 'saxhorn basse'"),
        ("changez en tuba", "instrument 'tuba'"),
        ("prende il trombone basso", "instrument 'trombone basso'"),
        ("cambia a trombón bajo", "instrument 'trombón bajo'"),
        ("change to Contrabass Trombone (in F)", "instrument 'Contrabass Trombone'"),
    ]);
}

#[test]
fn an_ordinary_take_or_to_names_no_instrument() {
    table(&[
        ("To Coda", "ToCoda"),
        ("to the Coda", "ToCoda"),
        ("to Coda 𝄌", "ToCoda"),
        ("take your time", ""),
        ("take a breath", ""),
        ("take repeat", ""),
        ("take mute out", "open"),
        ("to the end", ""),
        ("to open", ""),
        ("from here to letter C", ""),
        ("to match the basses in weight and length", ""),
        ("listen to tuba", ""),
        ("nimmt Dämpfer", "straight"),
        ("prenez la sourdine", "straight"),
        ("cambia a tempo", "a tempo"),
    ]);
}

#[test]
fn who_plays_is_read() {
    table(&[
        ("a2", "all"),
        ("a 2", "all"),
        ("à 2", "all"),
        ("À2", "all"),
        ("a2.", "all"),
        ("a due", "all"),
        ("zu 2", "all"),
        ("zu zweit", "all"),
        ("unis.", "all"),
        ("tutti", "all"),
        ("Tutti ff", "all, ff"),
        ("soli", "all"),
        ("alle", "all"),
        ("1.2.", "all"),
        ("1. 2.", "all"),
        ("1. & 2.", "all"),
        ("1.", "player 1"),
        ("2.", "player 2"),
        ("I.", "player 1"),
        ("II.", "player 2"),
        ("I. solo", "player 1"),
        ("1° solo", "player 1"),
        ("Solo", "player 1"),
        ("solo, espr.", "player 1"),
        ("2nd only", "player 2"),
        ("1st player", "player 1"),
        ("div.", "divided"),
        ("divisi", "divided"),
        ("geteilt", "divided"),
        ("div. a 2", "divided"),
        ("a2 con sord.", "all, straight"),
    ]);
}

#[test]
fn numbers_and_solos_that_mean_something_else_are_passed_over() {
    table(&[
        ("2nd time only", ""),
        ("1st x tacet", ""),
        ("2", ""),
        ("3", ""),
        ("end solo", ""),
        ("trumpet solo", ""),
        ("solo ad lib. with rhythm section", ""),
        ("in a 2 feel", ""),
        ("1. Satz", ""),
        ("divertimento", ""),
        ("i", ""),
        ("both hands", ""),
    ]);
}

#[test]
fn effects_are_read() {
    table(&[
        ("effect", "effect"),
        ("(as an effect)", "effect"),
        ("pedal", "effect"),
        ("Pedal tone", "effect"),
        ("pedal tones, f", "effect, f"),
        ("Pedalton", "effect"),
        ("note pédale", "effect"),
        ("pédale", "effect"),
        ("nota pedale", "effect"),
        ("no pedal", ""),
        ("sustain pedal down", ""),
        ("Ped.", ""),
        ("side effects", ""),
    ]);
}

#[test]
fn a_waiver_names_its_rules() {
    table(&[
        ("ok: effect-register", "ok effect-register"),
        ("OK: too-loud-for-register, out-of-range", "ok too-loud-for-register+out-of-range"),
        ("ok : leap-too-wide-at-speed", "ok leap-too-wide-at-speed"),
        ("ok", ""),
        ("ok:", ""),
        ("okay: fine", ""),
    ]);
}

#[test]
fn jumps_are_read() {
    table(&[
        ("D.C. al Fine", "DaCapo"),
        ("D.C.", "DaCapo"),
        ("Da Capo", "DaCapo"),
        ("D.S. al Coda", "DalSegno, AlCoda"),
        ("D.C. e poi la Coda", "DaCapo, AlCoda"),
        ("Dacapo", "DaCapo"),
        ("Coda", "Coda"),
        ("CODA", "Coda"),
        ("Coda: dolce", ""),
        ("dal 𝄋", "DalSegno"),
        ("Dal Segno al Fine", "DalSegno"),
        ("To Coda", "ToCoda"),
        ("Fine", "Fine"),
        ("fine tone", ""),
        ("D C", ""),
        ("D S", ""),
    ]);
}

#[test]
fn mutes_have_one_word_each() {
    for mute in Mute::ALL {
        let text = format!("{} mute", mute.name());
        assert_eq!(short(&text), mute.name());
    }
}

#[test]
fn any_text_is_read_without_a_panic() {
    for text in
        ["ok", "ö", "𝄌", "=", "= =", "♩=", "a\u{300}\u{300}", "…", "to", "take", "muta in", "1", "p", "\u{0}"]
    {
        said(text);
    }
    let long = "to p cresc. 1. ".repeat(2_000);
    said(&long);
}

#[test]
fn the_vocabulary_of_tempo_is_well_formed_and_every_source_is_named() {
    let text = include_str!("../../../profiles/tempo-words.toml");
    pace::check(text).unwrap();
}

#[test]
fn tempo_names_lie_where_pendulum_metronomes_print_them() {
    // The scale printed on pendulum metronomes, from memory.
    let scale = [
        ("Largo", 40.0, 60.0),
        ("Larghetto", 60.0, 66.0),
        ("Adagio", 66.0, 76.0),
        ("Andante", 76.0, 108.0),
        ("Moderato", 108.0, 120.0),
        ("Allegro", 120.0, 168.0),
        ("Presto", 168.0, 200.0),
        ("Prestissimo", 200.0, 208.0),
    ];
    for (name, from, to) in scale {
        let meanings = said(name);
        let [Meaning::Tempo(TempoWord::Customary { tempo, .. }, _)] = meanings.as_slice() else {
            panic!("{name} is no tempo: {meanings:?}");
        };
        assert!((from..=to).contains(&tempo.get()), "{name}: {}", tempo.get());
    }
}

#[test]
fn the_same_beat_is_longer_in_a_compound_metre() {
    let metre = |units: i64, unit: (i64, i64)| {
        let unit = Length::quarters(unit.0, unit.1).unwrap();
        Metre { nominal: unit.times(units, 1), unit }
    };
    let (four, six, two, three) = (metre(4, (1, 1)), metre(6, (1, 2)), metre(2, (2, 1)), metre(3, (1, 1)));
    let factor = |before: Metre, here: Metre| match (TempoWord::Same { factor: 1.0 }).in_metre(here, before) {
        TempoWord::Same { factor } => factor,
        other => panic!("{other:?}"),
    };
    // 4/4 to 6/8: the quarter becomes a dotted quarter, and there are one and a half times as many quarters a minute.
    assert!((factor(four, six) - 1.5).abs() < 1e-9);
    assert!((factor(six, three) - 2.0 / 3.0).abs() < 1e-9);
    for (before, here) in [(four, three), (four, two), (six, six), (Metre::NONE, six)] {
        assert!((factor(before, here) - 1.0).abs() < 1e-9);
    }
}

#[test]
fn tempo_words_are_quoted_as_they_stand() {
    for (text, quote) in [
        ("dim. e poco rit.", "poco rit."),
        ("Allegro con brio", "Allegro con brio"),
        ("rit. molto - - -", "rit. molto"),
    ] {
        let quoted: Vec<String> = said(text)
            .into_iter()
            .filter_map(|meaning| match meaning {
                Meaning::Tempo(_, quote) => Some(quote),
                _ => None,
            })
            .collect();
        assert_eq!(quoted, [quote], "{text}");
    }
}

#[test]
fn manners_of_tongue_and_breath_are_read() {
    table(&[
        ("Flz.", "flutter"),
        ("flutter tongue", "flutter"),
        ("Flatterzunge", "flutter"),
        ("frull.", "flutter"),
        ("ord.", "plain"),
        ("norm.", "plain"),
        ("non frull.", ""),
        ("stagger breathing", "stagger"),
        ("Stagger breathe", "stagger"),
        ("p stagger breaths", "p, stagger"),
        ("(circular breathing)", "stagger"),
        ("chorisch atmen", "stagger"),
        ("Zirkularatmung", "stagger"),
        ("respiration alternée", "stagger"),
        ("respirations décalées", "stagger"),
        ("respirazione circolare", "stagger"),
        ("respiración escalonada", "stagger"),
        ("do not stagger", ""),
        ("no circular breathing", ""),
        ("breathe", ""),
    ]);
}
