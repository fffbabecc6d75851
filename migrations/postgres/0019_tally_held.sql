-- A sum is one value from here on, not a column for each counter and a row for each day: reading a year of them took longer
-- than everything else. What is dropped is computed again from the journals.
drop table tally_age;
drop table tally_sum;
delete from tally_row;
delete from tally_reached;

-- Sums of the rows that count, changed in the transaction that changes a row.
create table tally_sum (
  site text collate "C" not null,
  edition text collate "C" not null,
  by_what bigint not null,                             -- 0: by variant, 1: by equipment
  month text collate "C" not null,
  of_site text collate "C" not null,
  of_what text collate "C" not null,                   -- the variant or equipment
  held bytea not null,                                 -- rows, counters and days as the store writes them
  primary key (site, edition, by_what, month, of_site, of_what)
);
