-- The version of its sequence that a group keeps, from a day to the last; where there is no row it follows
-- the sequence.
CREATE TABLE group_version (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    version_id BLOB NOT NULL CHECK (length(version_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    until_on TEXT CHECK (until_on IS date(until_on)),
    PRIMARY KEY (school_id, group_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
) STRICT;
-- The first day on which a version is not taught from any more, and why.
ALTER TABLE sequence_version ADD COLUMN withdrawn_on TEXT CHECK (withdrawn_on IS date(withdrawn_on));
ALTER TABLE sequence_version ADD COLUMN withdrawn_note TEXT;
