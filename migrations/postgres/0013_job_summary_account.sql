-- What a job used and made, for sums over many jobs. What is there was computed without it and is computed again.
delete from job_summary;

alter table job_summary add column account text not null default '';  -- JSON of the server; never read by the store
