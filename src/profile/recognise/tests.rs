use super::*;
use crate::profile::shipped;

/// A part as a score lists it, in one line: `name | sound | program | abbreviation | group`; what is left out is not
/// there.
fn part(line: &str, index: u32) -> PartInfo {
    let mut fields = line.split('|').map(str::trim);
    let mut field = || fields.next().unwrap_or("").to_owned();
    let (name, sound, program, abbreviation, group) = (field(), field(), field(), field(), field());
    let instrument = Instrument {
        id: format!("P{index}-I1"),
        name: String::new(),
        sound: Some(sound).filter(|sound| !sound.is_empty()),
        midi_program: program.parse().ok(),
    };
    let groups = if group.is_empty() { Vec::new() } else { vec![group] };
    let instruments = vec![instrument];
    PartInfo {
        index,
        id: format!("P{index}"),
        name,
        abbreviation,
        instruments,
        groups,
        ..PartInfo::default()
    }
}

fn said(verdict: &Verdict) -> String {
    match verdict {
        Verdict::Instrument { profile, by, also } => {
            let others: Vec<&str> = also.iter().map(|other| other.name.as_str()).collect();
            let plus = if others.is_empty() { "" } else { " +" };
            format!("{} {}{plus}{}", profile.name, by.word(), others.join(" +"))
        }
        Verdict::Unrecognised(Doubt::NothingKnown) => "?".to_owned(),
        Verdict::Unrecognised(Doubt::SeveralFit(titles)) => format!("? {}", titles.join(", ")),
        Verdict::PassedOver => "-".to_owned(),
    }
}

/// Each line is a part, `=>` and the verdict: the profile and how it was known, `?` for a doubt, `-` for another
/// instrument.
#[track_caller]
fn part_list(lines: &str) {
    let recogniser = Recogniser::new(shipped(), None);
    let lines: Vec<(&str, &str)> = lines
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
        .map(|l| l.split_once("=>").unwrap())
        .collect();
    let parts: Vec<PartInfo> = (0..).zip(&lines).map(|(index, (line, _))| part(line, index)).collect();
    let verdicts = recogniser.recognise_all(&parts, &Casting::default());
    for ((line, expected), verdict) in lines.iter().zip(&verdicts) {
        assert_eq!(said(verdict), expected.trim(), "{line}");
    }
}

/// As [`part_list`], but each line is a score of its own.
#[track_caller]
fn alone(lines: &str) {
    for line in lines.lines().filter(|line| !line.trim().is_empty()) {
        part_list(line);
    }
}

#[test]
fn a_name_is_known_in_five_languages_whatever_its_dress() {
    // Names as read in Geib, Riemann 1882, Grove and the references each profile lists; the rest from memory.
    alone(
        "
        Tuba => contrabass-tuba-c name
        TUBA 1 => contrabass-tuba-c name
        2 Tubas => contrabass-tuba-c name
        Kontrabaßtuba => contrabass-tuba-c name
        Tuba contrabbassa => contrabass-tuba-c name
        Tuba contrebasse => contrabass-tuba-c name
        Tuba in B♭ => contrabass-tuba-b-flat name
        BB♭ Bass => contrabass-tuba-b-flat name
        E♭ Bass => bass-tuba-e-flat name
        Tuba in Es => bass-tuba-e-flat name
        Bass Tuba in F => bass-tuba-f name
        Basstuba => bass-tuba-f name
        Basso Tuba => bass-tuba-f name
        Tuba en ut => french-tuba-c name
        Sousaphone => sousaphone name
        Tenor Tuba => euphonium name
        Tenortuba => tenor-tuba name
        Euphonium in B♭ => euphonium name
        Baritone Horn => baritone-horn name
        Tenorhorn => baritone-horn name
        Wagner Tuba in F => wagner-tuba-f name
        Wagnertuba in B => wagner-tuba-b-flat name
        Ophicléide => ophicleide-c name
        Altposaune => alto-trombone name
        Trombone alto => alto-trombone name
        Posaune I.II => tenor-bass-trombone name
        Trombone in B♭ => tenor-bass-trombone name
        Tenor Trombone 1 => tenor-bass-trombone name
        Trombón bajo => bass-trombone name
        Bassposaune => bass-trombone name
        Bass Trombones => bass-trombone name
        B. Trombone => bass-trombone name
        B. Tbn. => bass-trombone abbreviation
        B. Tuba => bass-tuba-f name
        Trombone 1 & 2 => tenor-bass-trombone name
        Trombone 4 (Bass) => bass-trombone name
        Kontrabassposaune => contrabass-trombone-f name
        Contrabass Trombone in B♭ => contrabass-trombone-b-flat name
        Cimbasso => cimbasso-f name
        Cimbasso in E♭ => cimbasso-e-flat name
        Tromba bassa => bass-trumpet name
        Bass Trumpet in E♭ => bass-trumpet name
        ",
    );
}

#[test]
fn what_only_sounds_like_low_brass_is_passed_over() {
    alone(
        "
        Bass => -
        Baritone => -
        Tenor => -
        Bass Clarinet => -
        Baritone Sax => -
        Bass Drum => -
        Tubular Bells => -
        Tubaphone => -
        Euphone => -
        Horn in F 1 => -
        Tenor Horn => -
        Trumpet in B♭ => -
        Contrabass => -
        Contrabassoon => -
        Double Bass => -
        Bass Guitar => -
        B♭ Bass Clarinet => -
        Bass Clarinet in B♭ => -
        E♭ Bass Saxophone => -
        Baritone Ukulele => -
        Tambourine ||| Tb. => -
        Bass Flute => -
        Flute | brass.tuba | 59 => -
        Basses || 53 => -
        Piano => -
         => -
        Corno basso => -
        Trombe => -
        ",
    );
}

#[test]
fn a_choir_is_no_brass_band() {
    part_list(
        "
        Soprano => -
        Alto => -
        Tenor => -
        Baritone => -
        Bass => -
        ",
    );
    part_list(
        "
        Solo Cornet => -
        Flugelhorn => -
        1st Baritone => baritone-horn name
        2nd Baritone => baritone-horn name
        1st Trombone => tenor-bass-trombone name
        2nd Trombone => tenor-bass-trombone name
        Bass Trombone => bass-trombone name
        Euphonium => euphonium name
        E♭ Bass => bass-tuba-e-flat name
        B♭ Bass => contrabass-tuba-b-flat name
        ",
    );
    part_list(
        "
        Bass Clarinet in B♭ => -
        Baritone Saxophone => -
        Baritone T.C. => baritone-horn name
        Baritone | brass.baritone-horn | 58 => baritone-horn instrument-sound
        Trombone => tenor-bass-trombone name
        ",
    );
}

#[test]
fn the_lowest_of_three_trombones_is_a_bass_trombone() {
    part_list(
        "
        Trombone 1 => tenor-bass-trombone name
        Trombone 2 => tenor-bass-trombone name
        Trombone 3 => bass-trombone section
        ",
    );
    // A sound of the tenor on all three, as exporters leave it.
    part_list(
        "
        Trombone 1 | brass.trombone | 58 => tenor-bass-trombone instrument-sound
        Trombone 2 | brass.trombone | 58 => tenor-bass-trombone instrument-sound
        Trombone 3 | brass.trombone.tenor | 58 => bass-trombone section
        Tuba | brass.tuba | 59 => contrabass-tuba-c instrument-sound
        ",
    );
    part_list("Trombone 1.2 => tenor-bass-trombone name\nTrombone 3 => bass-trombone section");
    part_list("Posaune I.II => tenor-bass-trombone name\nPosaune III => bass-trombone section");
    part_list(
        "Tbn. 1 => tenor-bass-trombone abbreviation\nTbn. 2 => tenor-bass-trombone abbreviation\nTbn. 3 => bass-trombone section",
    );
    part_list(
        "Trombone 1-2 => tenor-bass-trombone name\nTrombone 3-4 => tenor-bass-trombone name +bass-trombone",
    );
    part_list(
        "
        Trombone 1 => tenor-bass-trombone name
        Trombone 2 => tenor-bass-trombone name
        Trombone 3 => tenor-bass-trombone name
        Trombone 4 => bass-trombone section
        ",
    );
    part_list(
        "Tenor Trombone 1-2 => tenor-bass-trombone name
        Bass Trombone => bass-trombone name",
    );
    part_list(
        "Trombone 1-2 => tenor-bass-trombone name
        Bass Trombone => bass-trombone name",
    );
    part_list(
        "Trombone => tenor-bass-trombone name\nTrombone => tenor-bass-trombone name\nTrombone => bass-trombone section",
    );
    alone(
        "
        Trombone 3 => bass-trombone section
        Trombone 1-3 => tenor-bass-trombone name +bass-trombone
        3 Posaunen => tenor-bass-trombone name +bass-trombone
        Trombones => tenor-bass-trombone name +bass-trombone
        Trombone => tenor-bass-trombone name
        Trombone 2 => tenor-bass-trombone name
        ",
    );
    part_list(
        "Alto Trombone => alto-trombone name\nTenor Trombone => tenor-bass-trombone name\nTrombone 3 => bass-trombone section",
    );
}

#[test]
fn a_number_alone_takes_its_name_from_its_group() {
    part_list(
        "
        1 |||| Trombones => tenor-bass-trombone name
        2 |||| Trombones => tenor-bass-trombone name
        3 |||| Trombones => bass-trombone section
        1 |||| Horns => -
        ",
    );
}

#[test]
fn a_name_that_says_more_wins_over_a_sound_that_says_less() {
    alone(
        "
        Cimbasso | brass.tuba => cimbasso-f name
        Bass Tuba in F | brass.tuba | 59 => bass-tuba-f name
        Euphonium | brass.tuba => euphonium name
        Bass Trombone | brass.trombone | 58 => bass-trombone name
        Bass Trombone | brass.trombone.tenor | 58 => bass-trombone name
        Tuba in E♭ | brass.tuba.bass => bass-tuba-e-flat name
        Trombone | brass.trombone.bass => bass-trombone instrument-sound
        Trombone | brass.tuba => tenor-bass-trombone name
        Tuba | keyboard.piano | 1 => contrabass-tuba-c name
        Part 7 | brass.trombone.bass => bass-trombone instrument-sound
        Part 7 | brass.tuba => contrabass-tuba-c instrument-sound
        Part 7 || 59 => contrabass-tuba-c midi-program
        Part 7 ||| Pos. 1 => tenor-bass-trombone abbreviation
        Part 7 ||| B. Tbn. => bass-trombone abbreviation
         ||| Tbn. 3 => bass-trombone section
        ",
    );
}

#[test]
fn low_brass_that_cannot_be_told_is_said() {
    // "Brass low" names no instrument; a General MIDI program is the last resort (trombone 58, tuba 59).
    alone(
        "
        Brass low => ?
        Low Brass 3 || 58 => tenor-bass-trombone midi-program
        Bombardon => ?
        Wagner Tuba => ? a Wagner tuba in B flat, a Wagner tuba in F
        Wagnertuben | brass.wagner-tuba => ? a Wagner tuba in B flat, a Wagner tuba in F
        Trombone and Euphonium => tenor-bass-trombone name +euphonium
        Serpent | brass.serpent => ?
        Horn 5 / Tenor Tuba 1 => ? a euphonium, another instrument
        Tuba / Cimbasso => contrabass-tuba-c name +cimbasso-f
        Tuba (doubling Euphonium) => contrabass-tuba-c name +euphonium
        ",
    );
}

#[test]
fn a_staff_for_trombones_and_tuba_is_shared_out_by_its_name() {
    let recogniser = Recogniser::new(shipped(), None);
    let shares = |name: &str| -> Vec<String> {
        let show = |share: crate::score::Share| format!("{} {:?}", share.name, share.numbers);
        recogniser.sharers(name).into_iter().map(show).collect()
    };
    for name in [
        "Trombone 3 / Tuba",
        "Trombone 3 & Tuba",
        "Tuba, Trombone 3",
        "Trombone 3 e Tuba",
        "Trombone 3\nTuba",
    ] {
        assert_eq!(shares(name), ["Trombone 3 [3]", "Tuba []"], "{name}");
    }
    assert_eq!(shares("3. Posaune u. Basstuba"), ["3. Posaune [3]", "Basstuba []"]);
    assert_eq!(shares("B. Tbn./Tba."), ["B. Tbn. []", "Tba. []"]);
    assert_eq!(shares("Trombones 2, 3 & Tuba"), ["Trombones 2, 3 [2, 3]", "Tuba []"]);
    assert_eq!(shares("Trombone I e II, Tuba"), ["Trombone I, II [1, 2]", "Tuba []"]);
    assert_eq!(shares("Trombone 3 & Bass Trombone"), ["Trombone 3 [3]", "Bass Trombone []"]);
    assert_eq!(shares("Trombone & Euphonium"), ["Trombone []", "Euphonium []"]);
    assert_eq!(shares("Tbn. 3 / Tuba"), ["Tbn. 3 [3]", "Tuba []"]);
    for name in
        ["Tuba", "Trombone 1, 2", "Bass Trombone", "Tuba / Cimbasso", "Low Brass", "Trombone 1 & Trombone 2"]
    {
        assert!(shares(name).is_empty(), "{name}");
    }
}

#[test]
fn four_tubas_beside_eight_horns_are_wagner_tubas() {
    let doubt = "? a Wagner tuba in B flat, a Wagner tuba in F";
    part_list(&format!(
        "
        Horns 1-4 => -
        Horns 5-8 => -
        Tuba 1 => {doubt}
        Tuba 2 => {doubt}
        Tuba 3 => {doubt}
        Tuba 4 => {doubt}
        Kontrabasstuba => contrabass-tuba-c name
        "
    ));
    part_list(&format!(
        "Tenortuba 1.2 => {doubt}\nBasstuba 1.2 => {doubt}\nKontrabasstuba => contrabass-tuba-c name"
    ));
    // One of each is a tenor tuba and a bass tuba.
    part_list("Tenortuba => tenor-tuba name\nBasstuba => bass-tuba-f name");
    part_list("Horns 1-4 => -\nTuba 1 => contrabass-tuba-c name\nTuba 2 => contrabass-tuba-c name");
}

#[test]
fn a_remark_behind_the_name_is_no_name() {
    alone(
        "
        Tuba: left to instrument-change-too-quick | brass.tuba => contrabass-tuba-c instrument-sound
        Bass Trombone: cues in bassoon => bass-trombone name
        Trombone 2 (on stage, behind the horns) => tenor-bass-trombone name
        Tuba (F) => bass-tuba-f name
        Brass: Tuba => contrabass-tuba-c name
        Trombone 4 (Bass) => bass-trombone name
        ",
    );
}

#[test]
fn a_kontrabasstuba_is_the_contrabass_of_the_settings_and_else_the_one_in_c() {
    let name = |tuba: Option<&str>| {
        let recogniser = Recogniser::new(shipped(), tuba.and_then(|tuba| shipped().get(tuba)));
        said(&recogniser.recognise_all(&[part("Kontrabasstuba", 0)], &Casting::default())[0])
    };
    assert_eq!(name(None), "contrabass-tuba-c name");
    assert_eq!(name(Some("contrabass-tuba-b-flat")), "contrabass-tuba-b-flat name");
    assert_eq!(name(Some("contrabass-tuba-c-4v")), "contrabass-tuba-c-4v name");
    assert_eq!(name(Some("bass-tuba-f")), "contrabass-tuba-c name");
}

#[test]
fn the_settings_overrule_and_choose_the_tuba() {
    let profiles = shipped();
    let tuba = profiles.get("contrabass-tuba-b-flat");
    let recogniser = Recogniser::new(profiles, tuba);
    let parts =
        [part("Tuba | brass.tuba", 0), part("Brass low", 1), part("Trombone 3", 2), part("Tuba 2", 3)];
    let told = PartCasting {
        profile: profiles.get("cimbasso-f").map(|profile| (profile, RecognisedBy::Settings)),
        ..PartCasting::default()
    };
    let tenor = PartCasting {
        profile: profiles.get("tenor-trombone").map(|profile| (profile, RecognisedBy::CommandLine)),
        ..PartCasting::default()
    };
    let left_out = PartCasting { pass_over: true, ..PartCasting::default() };
    let casting = Casting { parts: BTreeMap::from([(1, told), (2, tenor), (3, left_out)]) };
    let verdicts: Vec<String> = recogniser.recognise_all(&parts, &casting).iter().map(said).collect();
    let expected =
        ["contrabass-tuba-b-flat instrument-sound", "cimbasso-f settings", "tenor-trombone option", "-"];
    assert_eq!(verdicts, expected);
}

#[test]
fn words_in_the_part_name_the_next_instrument() {
    let profiles = shipped();
    let recogniser = Recogniser::new(profiles, None);
    let takes = |text: &str, in_hand: &str| {
        let in_hand = profiles.get(in_hand);
        recogniser.recognise_words(text, in_hand.as_deref()).map(|profile| profile.name.clone())
    };
    let table = [
        ("Basstuba", "contrabass-tuba-c", Some("bass-tuba-f")),
        ("F Tuba", "contrabass-tuba-c", Some("bass-tuba-f")),
        ("F", "contrabass-tuba-c", Some("bass-tuba-f")),
        ("bass trombone", "tenor-bass-trombone", Some("bass-trombone")),
        ("bass", "tenor-bass-trombone", Some("bass-trombone")),
        ("cimbasso", "contrabass-tuba-c", Some("cimbasso-f")),
        ("Tuba", "cimbasso-f", Some("contrabass-tuba-c")),
        ("euphonium", "bass-trombone", Some("euphonium")),
        ("piccolo", "contrabass-tuba-c", None),
        ("the top", "contrabass-tuba-c", None),
        ("horn", "euphonium", None),
    ];
    for (text, in_hand, expected) in table {
        assert_eq!(takes(text, in_hand).as_deref(), expected, "{text}");
    }
}

#[test]
fn northern_and_slavonic_names_are_known() {
    // From memory: the instruments' names in those languages.
    alone(
        "
        Trombon 1 => tenor-bass-trombone name
        Basun => tenor-bass-trombone name
        Puzon 2 => tenor-bass-trombone name
        Pozoun => tenor-bass-trombone name
        Тромбон => tenor-bass-trombone name
        Bastrombone => bass-trombone name
        Basbasun => bass-trombone name
        Puzon basowy => bass-trombone name
        Basový pozoun => bass-trombone name
        Туба => contrabass-tuba-c name
        Bastuba => bass-tuba-f name
        Eufonium => euphonium name
        ",
    );
}

/// The table of `part-names.txt`: each line is a part among its company.
#[test]
fn every_name_of_the_table_is_read_as_it_says() {
    let recogniser = Recogniser::new(shipped(), None);
    let mut wrong = Vec::new();
    let (mut rows, mut grounds) = (0, 0);
    for line in
        include_str!("part-names.txt").lines().filter(|line| !line.is_empty() && !line.starts_with('#'))
    {
        if line.starts_with('[') {
            grounds += 1;
            continue;
        }
        assert!(grounds > 0, "no ground: {line}");
        rows += 1;
        let (what, expected) = line.split_once("=>").unwrap();
        let fields: Vec<&str> = what.split('|').map(str::trim).collect();
        let field = |index: usize| fields.get(index).copied().unwrap_or("");
        let company = field(7).split(',').map(str::trim).filter(|name| !name.is_empty());
        let mut parts: Vec<PartInfo> = (0..).zip(company).map(|(index, name)| part(name, index)).collect();
        let mut own = part(&fields[..fields.len().min(5)].join("|"), u32::try_from(parts.len()).unwrap());
        field(5).clone_into(&mut own.instruments[0].name);
        own.has_lyrics = field(6) == "lyrics";
        own.clef =
            (field(6) == "G8").then_some(crate::score::Clef { sign: ClefSign::G, line: 2, octaves: -1 });
        parts.push(own);
        let verdicts = recogniser.recognise_all(&parts, &Casting::default());
        let read_as = match verdicts.last().unwrap() {
            Verdict::Instrument { profile, also, .. } => {
                let names: Vec<&str> =
                    std::iter::once(profile).chain(also).map(|profile| profile.name.as_str()).collect();
                names.join(" +")
            }
            Verdict::Unrecognised(_) => "?".to_owned(),
            Verdict::PassedOver => "-".to_owned(),
        };
        if read_as != expected.trim() {
            wrong.push(format!("{what}=> {read_as}, not{expected}"));
        }
    }
    assert!(wrong.is_empty(), "{} of {rows}\n{}", wrong.len(), wrong.join("\n"));
    assert!(rows >= 200, "{rows}");
}

#[test]
fn the_name_says_how_many_players_read_a_part() {
    let recogniser = Recogniser::new(shipped(), None);
    let table = [
        ("2 Tubas", Some(2)),
        ("3 Posaunen", Some(3)),
        ("2 tenor trombones", Some(2)),
        ("2 Cimbassi", Some(2)),
        ("3 puzony", Some(3)),
        ("Tuba 1, 2", Some(2)),
        ("Tubas 1 & 2", Some(2)),
        ("Tuba I/II", Some(2)),
        ("Trombones 1-3", Some(3)),
        ("Trombones a3", Some(3)),
        ("Trombones a 2", Some(2)),
        ("Tuba à 2", Some(2)),
        ("Trombone 1.2", Some(2)),
        ("1st & 2nd Trombone", Some(2)),
        ("Tubas", Some(2)),
        ("Posaunen", Some(2)),
        ("Bassposaunen", Some(2)),
        ("Basstuben", Some(2)),
        ("Cimbassi", Some(2)),
        ("Euphoniums", Some(2)),
        ("Euphonien", Some(2)),
        ("Baritones", Some(2)),
        ("Sousaphones", Some(2)),
        ("ophicléides", Some(2)),
        ("E♭ Basses", Some(2)),
        ("Tuba", None),
        ("Cimbasso", None),
        ("Sousaphon", None),
        ("Sousaphone", None),
        ("Bass Trombone", None),
        ("Tuba 2", Some(1)),
        ("2. Posaune", Some(1)),
        ("2nd Trombone", Some(1)),
        ("Tuba II", Some(1)),
        ("Trombone 3 (Bass)", Some(1)),
        ("Tuba in F", None),
        ("Bass", None),
        ("Tuba 76", None),
        ("", None),
    ];
    for (name, players) in table {
        let info = PartInfo { name: name.to_owned(), ..PartInfo::default() };
        assert_eq!(recogniser.players_named(&info), players, "{name}");
    }
}
