-- Rows of jobs of several workshops and their sums, on an owner's server. Stand beside the journal: they can be computed
-- again. Rows of one edition of the computing program stand beside those of another.
create table tally_row (
  edition text not null,
  of_site text not null,                               -- site of the job
  job blob not null check (length(job) = 16),
  seq integer not null,                                -- last entry of the job that it rests on
  month text not null,                                 -- YYYY-MM
  variant text not null,                               -- empty if not known
  equipment text not null,                             -- empty if not known
  vehicle text not null,                               -- digest; empty if not known
  opened_us integer not null,
  counts integer not null check (counts in (0, 1)),    -- whether it counts in the sums
  stands_out integer not null check (stands_out in (0, 1)),
  counters text not null,                              -- JSON array of whole numbers
  day integer,                                         -- days since 1970, UTC; null if nobody can come back after it
  back integer not null,                               -- bit n: the vehicle came back within span n
  whole text not null,                                 -- as the server writes it; not interpreted here
  primary key (edition, of_site, job)
) strict;

create index tally_row_by_month on tally_row (edition, of_site, month, job);
create index tally_row_standing_out on tally_row (edition, of_site, month, job) where stands_out = 1;
create index tally_row_by_vehicle on tally_row (edition, vehicle) where vehicle <> '';

-- Sums of the rows that count, changed in the transaction that changes a row.
create table tally_sum (
  edition text not null,
  by_what integer not null,                            -- 0: by variant, 1: by equipment
  month text not null,
  of_site text not null,
  of_what text not null,                               -- the variant or equipment
  jobs integer not null,                               -- rows; at 0 it is no sum any more
  seen integer not null,                               -- rows with a day
  back_0 integer not null,                             -- of these, with bit 0, 1, 2 of back
  back_1 integer not null,
  back_2 integer not null,
  day_least integer not null,                          -- no day is before or after these; they only widen
  day_most integer not null,
  c0 integer not null,
  c1 integer not null,
  c2 integer not null,
  c3 integer not null,
  c4 integer not null,
  c5 integer not null,
  c6 integer not null,
  c7 integer not null,
  c8 integer not null,
  c9 integer not null,
  c10 integer not null,
  c11 integer not null,
  c12 integer not null,
  c13 integer not null,
  c14 integer not null,
  c15 integer not null,
  c16 integer not null,
  c17 integer not null,
  c18 integer not null,
  c19 integer not null,
  c20 integer not null,
  c21 integer not null,
  c22 integer not null,
  c23 integer not null,
  c24 integer not null,
  c25 integer not null,
  c26 integer not null,
  c27 integer not null,
  c28 integer not null,
  c29 integer not null,
  c30 integer not null,
  c31 integer not null,
  c32 integer not null,
  c33 integer not null,
  c34 integer not null,
  c35 integer not null,
  c36 integer not null,
  c37 integer not null,
  c38 integer not null,
  c39 integer not null,
  c40 integer not null,
  c41 integer not null,
  c42 integer not null,
  c43 integer not null,
  c44 integer not null,
  c45 integer not null,
  c46 integer not null,
  c47 integer not null,
  primary key (edition, by_what, month, of_site, of_what)
) strict, without rowid;

-- The rows with a day, by it: only asked for months that a day to ask for falls into.
create table tally_age (
  edition text not null,
  by_what integer not null,
  month text not null,
  of_site text not null,
  of_what text not null,
  day integer not null,
  seen integer not null,
  back_0 integer not null,
  back_1 integer not null,
  back_2 integer not null,
  primary key (edition, by_what, month, of_site, of_what, day)
) strict, without rowid;

-- How far the rows of a site reach.
create table tally_reached (
  edition text not null,
  of_site text not null,
  epoch blob not null check (length(epoch) = 16),
  seq integer not null,
  primary key (edition, of_site)
) strict, without rowid;

pragma user_version = 17;
