-- Placement checks: each a round of one pupil, under the round's id, of a check made for the sequence version.
CREATE TABLE placement (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    version_id UUID NOT NULL,
    check_id UUID NOT NULL,
    started_by UUID NOT NULL,
    started_at TIMESTAMPTZ NOT NULL,
    ended_at TIMESTAMPTZ,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, id) REFERENCES check_round (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id),
    FOREIGN KEY (school_id, check_id) REFERENCES check_definition (school_id, id)
);
CREATE INDEX placement_by_pupil ON placement (school_id, pupil_id);
