-- Placement checks: each a round of one pupil, under the round's id, of a check made for the sequence version.
CREATE TABLE placement (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    version_id BLOB NOT NULL CHECK (length(version_id) = 16),
    check_id BLOB NOT NULL CHECK (length(check_id) = 16),
    started_by BLOB NOT NULL CHECK (length(started_by) = 16),
    started_at INTEGER NOT NULL,
    ended_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
) STRICT;
CREATE INDEX placement_by_pupil ON placement (school_id, pupil_id);
