-- Keeps what there was a word for: whole days of the school, the first of each.
CREATE TABLE closure_as_before (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    kind TEXT NOT NULL,
    reason TEXT,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, on_date)
) STRICT;
INSERT INTO closure_as_before (school_id, id, on_date, kind, reason, v)
SELECT school_id, id, from_on, kind, reason, v FROM closure
WHERE taken_back_at IS NULL AND part = 'whole' AND year_groups IS NULL AND class_ids IS NULL AND kind <> 'trip'
ON CONFLICT DO NOTHING;
DROP TABLE closure;
ALTER TABLE closure_as_before RENAME TO closure;
