//! What a copy of a whole site must withstand. One name for all tests that need a database: they are asked for by it.

mod stores;
