-- That two records are of one child, or of two. Of one, other_id is the record that is gone, and
-- before holds what an undo puts back. Without a reference to pupil: it outlives a record.
CREATE TABLE pupil_decision (
    school_id BLOB NOT NULL REFERENCES school (id) CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    verdict TEXT NOT NULL,
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    other_id BLOB NOT NULL CHECK (length(other_id) = 16),
    before TEXT CHECK (json_valid(before)),
    decided_by BLOB NOT NULL CHECK (length(decided_by) = 16),
    decided_at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id)
) STRICT;
