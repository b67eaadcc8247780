-- Catch-up given to some pupils of a group: the ids of the items, and of the versions they stand in.
CREATE TABLE catch_up (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    items TEXT NOT NULL CHECK (json_valid(items)),
    versions TEXT NOT NULL CHECK (json_valid(versions)),
    taught_by BLOB NOT NULL CHECK (length(taught_by) = 16),
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    deleted_at INTEGER,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
) STRICT;
CREATE INDEX catch_up_by_group ON catch_up (school_id, group_id, on_date);

CREATE TABLE catch_up_pupil (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    catch_up_id BLOB NOT NULL CHECK (length(catch_up_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    PRIMARY KEY (school_id, catch_up_id, pupil_id),
    FOREIGN KEY (school_id, catch_up_id) REFERENCES catch_up (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX catch_up_pupil_by_pupil ON catch_up_pupil (school_id, pupil_id);
