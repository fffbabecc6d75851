-- Earlier jobs of the same vehicle are looked up whenever a job is read.
create index job_summary_vin on job_summary (site, vin_key) where vin_key <> '';
create index job_summary_plate on job_summary (site, plate_key) where plate_key <> '';
