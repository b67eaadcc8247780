-- Previews of the way imports worked before; nothing of them was carried out.
DELETE FROM roster_import WHERE status = 'preview';
-- What people answered, and what an undo puts back.
ALTER TABLE roster_import ADD COLUMN answers TEXT NOT NULL DEFAULT '{}' CHECK (json_valid(answers));
ALTER TABLE roster_import ADD COLUMN before TEXT CHECK (json_valid(before));

-- What the school takes a heading for; no field where it is not read.
CREATE TABLE file_heading (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    heading_key TEXT NOT NULL,
    field TEXT,
    PRIMARY KEY (school_id, heading_key)
) STRICT;

-- Unique pupil numbers, those of before included.
CREATE TABLE pupil_upn (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    upn TEXT NOT NULL,
    since INTEGER NOT NULL,
    until INTEGER,
    PRIMARY KEY (school_id, pupil_id, upn),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
