-- The tablet a sign-in is on, once that is known: what a revoked tablet holds opens nothing any more.
ALTER TABLE session ADD COLUMN tablet_id BLOB CHECK (length(tablet_id) = 16);
