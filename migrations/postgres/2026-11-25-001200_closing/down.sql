-- Keeps what there was a word for: whole days of the school, the first of each.
CREATE TABLE closure_as_before (
    school_id UUID NOT NULL REFERENCES school (id),
    id UUID NOT NULL,
    on_date DATE NOT NULL,
    kind TEXT COLLATE "C" NOT NULL,
    reason TEXT COLLATE "C",
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, on_date)
);
INSERT INTO closure_as_before (school_id, id, on_date, kind, reason, v)
SELECT school_id, id, from_on, kind, reason, v FROM closure
WHERE taken_back_at IS NULL AND part = 'whole' AND year_groups IS NULL AND class_ids IS NULL AND kind <> 'trip'
ON CONFLICT DO NOTHING;
DROP TABLE closure;
ALTER TABLE closure_as_before RENAME TO closure;
