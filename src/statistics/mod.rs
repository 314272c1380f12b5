//! Statistics: plain slices in, named structs out.
