-- Rows of jobs of several workshops and their sums, on an owner's server, whose own site `site` is. Stand beside the journal:
-- they can be computed again. Rows of one edition of the computing program stand beside those of another.
create table tally_row (
  site text collate "C" not null,
  edition text collate "C" not null,
  of_site text collate "C" not null,                   -- site of the job
  job bytea not null check (length(job) = 16),
  seq bigint not null,                                 -- last entry of the job that it rests on
  month text collate "C" not null,                     -- YYYY-MM
  variant text collate "C" not null,                   -- empty if not known
  equipment text collate "C" not null,                 -- empty if not known
  vehicle text collate "C" not null,                   -- digest; empty if not known
  opened_us bigint not null,
  counts bigint not null check (counts in (0, 1)),     -- whether it counts in the sums
  stands_out bigint not null check (stands_out in (0, 1)),
  counters text not null,                              -- JSON array of whole numbers
  day bigint,                                          -- days since 1970, UTC; null if nobody can come back after it
  back bigint not null,                                -- bit n: the vehicle came back within span n
  whole text not null,                                 -- as the server writes it; not interpreted here
  primary key (site, edition, of_site, job)
);

create index tally_row_by_month on tally_row (site, edition, of_site, month, job);
create index tally_row_standing_out on tally_row (site, edition, of_site, month, job) where stands_out = 1;
create index tally_row_by_vehicle on tally_row (site, edition, vehicle) where vehicle <> '';

-- Sums of the rows that count, changed in the transaction that changes a row.
create table tally_sum (
  site text collate "C" not null,
  edition text collate "C" not null,
  by_what bigint not null,                             -- 0: by variant, 1: by equipment
  month text collate "C" not null,
  of_site text collate "C" not null,
  of_what text collate "C" not null,                   -- the variant or equipment
  jobs bigint not null,                                -- rows; at 0 it is no sum any more
  seen bigint not null,                                -- rows with a day
  back_0 bigint not null,                              -- of these, with bit 0, 1, 2 of back
  back_1 bigint not null,
  back_2 bigint not null,
  day_least bigint not null,                           -- no day is before or after these; they only widen
  day_most bigint not null,
  c0 bigint not null,
  c1 bigint not null,
  c2 bigint not null,
  c3 bigint not null,
  c4 bigint not null,
  c5 bigint not null,
  c6 bigint not null,
  c7 bigint not null,
  c8 bigint not null,
  c9 bigint not null,
  c10 bigint not null,
  c11 bigint not null,
  c12 bigint not null,
  c13 bigint not null,
  c14 bigint not null,
  c15 bigint not null,
  c16 bigint not null,
  c17 bigint not null,
  c18 bigint not null,
  c19 bigint not null,
  c20 bigint not null,
  c21 bigint not null,
  c22 bigint not null,
  c23 bigint not null,
  c24 bigint not null,
  c25 bigint not null,
  c26 bigint not null,
  c27 bigint not null,
  c28 bigint not null,
  c29 bigint not null,
  c30 bigint not null,
  c31 bigint not null,
  c32 bigint not null,
  c33 bigint not null,
  c34 bigint not null,
  c35 bigint not null,
  c36 bigint not null,
  c37 bigint not null,
  c38 bigint not null,
  c39 bigint not null,
  c40 bigint not null,
  c41 bigint not null,
  c42 bigint not null,
  c43 bigint not null,
  c44 bigint not null,
  c45 bigint not null,
  c46 bigint not null,
  c47 bigint not null,
  primary key (site, edition, by_what, month, of_site, of_what)
);

-- The rows with a day, by it: only asked for months that a day to ask for falls into.
create table tally_age (
  site text collate "C" not null,
  edition text collate "C" not null,
  by_what bigint not null,
  month text collate "C" not null,
  of_site text collate "C" not null,
  of_what text collate "C" not null,
  day bigint not null,
  seen bigint not null,
  back_0 bigint not null,
  back_1 bigint not null,
  back_2 bigint not null,
  primary key (site, edition, by_what, month, of_site, of_what, day)
);

-- How far the rows of a site reach.
create table tally_reached (
  site text collate "C" not null,
  edition text collate "C" not null,
  of_site text collate "C" not null,
  epoch bytea not null check (length(epoch) = 16),
  seq bigint not null,
  primary key (site, edition, of_site)
);
