-- One row for each run of numbers a station sends under one station epoch.
create table station_stream (
  first_seq integer primary key,                       -- sequence of the first entry of this run
  station text not null,                               -- station id
  station_epoch blob not null check (length(station_epoch) = 16),
  unique (station, station_epoch)
) strict;

create trigger station_stream_never_updated before update on station_stream
begin
  select raise(abort, 'a station''s run of numbers never changes');
end;

create trigger station_stream_never_deleted before delete on station_stream
begin
  select raise(abort, 'a station''s run of numbers is never deleted');
end;

pragma user_version = 3;
