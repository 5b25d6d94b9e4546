//! Words: how numbers and terms are put into a reason.
