-- Previews of the way imports worked before; nothing of them was carried out.
DELETE FROM roster_import WHERE status = 'preview';
-- What people answered, and what an undo puts back.
ALTER TABLE roster_import ADD COLUMN answers JSON NOT NULL DEFAULT '{}';
ALTER TABLE roster_import ADD COLUMN before JSON;

-- What the school takes a heading for; no field where it is not read.
CREATE TABLE file_heading (
    school_id UUID NOT NULL REFERENCES school (id),
    heading_key TEXT COLLATE "C" NOT NULL,
    field TEXT COLLATE "C",
    PRIMARY KEY (school_id, heading_key)
);

-- Unique pupil numbers, those of before included.
CREATE TABLE pupil_upn (
    school_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    upn TEXT COLLATE "C" NOT NULL,
    since TIMESTAMPTZ NOT NULL,
    until TIMESTAMPTZ,
    PRIMARY KEY (school_id, pupil_id, upn),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
