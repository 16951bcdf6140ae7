//! Which instrument a part is for.

/// How a part was recognised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum RecognisedBy {
    InstrumentSound,
    Name,
    Abbreviation,
    MidiProgram,
    /// By its place among its neighbours (the lowest of three trombones).
    Section,
    Settings,
    /// `--as`.
    CommandLine,
}

/// Why a part was not recognised.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// It may be low brass; nothing tells which instrument.
    NothingKnown,
    /// Several instruments fit alike and only a person can say which; their titles with their article.
    SeveralFit(Vec<String>),
}

impl RecognisedBy {
    /// As the JSON contract names it.
    pub const fn word(self) -> &'static str {
        match self {
            RecognisedBy::InstrumentSound => "instrument-sound",
            RecognisedBy::Name => "name",
            RecognisedBy::Abbreviation => "abbreviation",
            RecognisedBy::MidiProgram => "midi-program",
            RecognisedBy::Section => "section",
            RecognisedBy::Settings => "settings",
            RecognisedBy::CommandLine => "option",
        }
    }
}
