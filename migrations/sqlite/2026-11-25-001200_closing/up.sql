-- Closing days is one action: a stretch of days, the whole of each or a half, for the school (both lists
-- null), for year groups by their codes, or for classes by their ids. One that was taken back stays readable.
CREATE TABLE closure_made_anew (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT NOT NULL CHECK (until_on IS date(until_on)),
    kind TEXT NOT NULL,
    reason TEXT,
    part TEXT NOT NULL,
    year_groups TEXT,
    class_ids TEXT,
    taken_back_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    CHECK (from_on <= until_on),
    CHECK (year_groups IS NULL OR class_ids IS NULL)
) STRICT;
INSERT INTO closure_made_anew (school_id, id, from_on, until_on, kind, reason, part, v)
SELECT school_id, id, on_date, on_date, kind, reason, 'whole', v FROM closure;
DROP TABLE closure;
ALTER TABLE closure_made_anew RENAME TO closure;
