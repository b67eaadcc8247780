-- The version of its sequence that a group keeps, from a day to the last; where there is no row it follows
-- the sequence.
CREATE TABLE group_version (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    version_id UUID NOT NULL,
    from_on DATE NOT NULL,
    until_on DATE,
    PRIMARY KEY (school_id, group_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
);
-- The first day on which a version is not taught from any more, and why.
ALTER TABLE sequence_version ADD COLUMN withdrawn_on DATE;
ALTER TABLE sequence_version ADD COLUMN withdrawn_note TEXT COLLATE "C";
