//! Rows from a drawn year and back, and of workshops whose journals are kept here.
