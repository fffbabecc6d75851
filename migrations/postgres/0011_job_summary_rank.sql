-- The list can also be read in an order of the server's choosing. What is there was computed without it and is
-- computed again.
delete from job_summary;

alter table job_summary add column rank bigint not null default 0;  -- place in that order, smaller first
