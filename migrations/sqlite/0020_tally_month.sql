-- The sums of a month of a site are one value from here on, no longer a row for each variant: the rows cost more than adding
-- up. What is dropped is computed again from the journals that are kept here; rows of others are put again.
drop table tally_sum;
delete from tally_row;
delete from tally_reached;

-- Sums of the rows that count, changed in the transaction that changes a row.
create table tally_month (
  edition text not null,
  by_what integer not null,                            -- 0: by variant, 1: by equipment
  month text not null,
  of_site text not null,
  held blob not null,                                  -- each variant's or equipment's sum, as the store writes them
  primary key (edition, by_what, month, of_site)
) strict;

pragma user_version = 20;
