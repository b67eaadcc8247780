-- Versions of a check: the later ones name the first. How a check was built, and whether it was edited.
ALTER TABLE check_definition ADD COLUMN series_id UUID;
ALTER TABLE check_definition ADD COLUMN version INTEGER NOT NULL DEFAULT 1 CHECK (version >= 1);
ALTER TABLE check_definition ADD COLUMN built JSON;
CREATE UNIQUE INDEX check_version ON check_definition (school_id, series_id, version);
