-- Earlier jobs of the same vehicle are looked up whenever a job is read.
create index job_summary_vin on job_summary (vin_key) where vin_key <> '';
create index job_summary_plate on job_summary (plate_key) where plate_key <> '';

pragma user_version = 12;
