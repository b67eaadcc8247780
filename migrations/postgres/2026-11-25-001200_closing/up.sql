-- Closing days is one action: a stretch of days, the whole of each or a half, for the school (both lists
-- null), for year groups by their codes, or for classes by their ids. One that was taken back stays readable.
CREATE TABLE closure_made_anew (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    reason TEXT COLLATE "C",
    part TEXT COLLATE "C" NOT NULL,
    year_groups JSON,
    class_ids JSON,
    taken_back_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    CHECK (from_on <= until_on),
    CHECK (year_groups IS NULL OR class_ids IS NULL)
);
INSERT INTO closure_made_anew (school_id, id, from_on, until_on, kind, reason, part, v)
SELECT school_id, id, on_date, on_date, kind, reason, 'whole', v FROM closure;
DROP TABLE closure;
ALTER TABLE closure_made_anew RENAME TO closure;
