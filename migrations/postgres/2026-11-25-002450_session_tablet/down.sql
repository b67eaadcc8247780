ALTER TABLE session DROP COLUMN tablet_id;
