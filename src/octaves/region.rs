//! What is moved.

/// A passage to be moved: neighbouring notes of one line.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub(super) struct Region {
    /// Index into [`Section::desks`](crate::playing::Section::desks).
    pub desk: usize,
    /// Index into the desk's lines.
    pub line: usize,
    /// First and last note: indices into the line's played notes, both moved.
    pub first: usize,
    pub last: usize,
    /// Octaves up.
    pub octaves: i8,
    /// How much less seldom the line's leaps and its standing among the other voices are for it, in hundredths of
    /// a nat. Its register does not count: that is what the rules judge.
    pub gain: i64,
    /// The same with its register, and with what speaks against moving anything. Like figures do not count: they may
    /// have gone astray together, and are looked at with the moves made.
    pub odds: i64,
}
