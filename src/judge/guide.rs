//! What a search over several readings says: measure this next, or this is it.

/// What to measure next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Next {
    /// The point's name.
    pub point: String,
    /// What to do, in words.
    pub say: String,
    /// What to look out for before that.
    pub cautions: Vec<&'static str>,
}

/// Where a search stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Guide<T> {
    /// It needs another reading.
    Next(Next),
    /// It has found what it looked for.
    Found {
        /// In words, with the values that say so.
        says: String,
        /// What was found.
        what: T,
    },
    /// The readings fit nothing, or cannot tell.
    Refused {
        /// Why, and what to do.
        says: String,
    },
}
