//! What only the PostgreSQL store must withstand. One name for all tests that need a database: they are asked for by it.

mod stores;
