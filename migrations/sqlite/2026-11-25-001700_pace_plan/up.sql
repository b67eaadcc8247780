-- How many lessons a group is to be taught in how many of its teaching days, from a day on until the next line.
CREATE TABLE pace_plan (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    lessons INTEGER NOT NULL CHECK (lessons >= 1),
    days INTEGER NOT NULL CHECK (days >= 1),
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, group_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
) STRICT;
