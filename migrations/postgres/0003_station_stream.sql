-- One row for each run of numbers a station sends under one station epoch.
create table station_stream (
  site text collate "C" not null,
  first_seq bigint not null,                           -- sequence of the first entry of this run
  station text collate "C" not null,                   -- station id
  station_epoch bytea not null check (length(station_epoch) = 16),
  primary key (site, first_seq),
  constraint station_stream_by_station unique (site, station, station_epoch)
);

create trigger station_stream_never_updated before update on station_stream for each row
execute function refuse('a station''s run of numbers never changes');

create trigger station_stream_never_deleted before delete on station_stream for each row
execute function refuse('a station''s run of numbers is never deleted');

create trigger station_stream_never_emptied before truncate on station_stream for each statement
execute function refuse('a station''s run of numbers is never deleted');
