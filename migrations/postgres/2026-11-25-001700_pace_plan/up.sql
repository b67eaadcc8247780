-- How many lessons a group is to be taught in how many of its teaching days, from a day on until the next line.
CREATE TABLE pace_plan (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    from_on DATE NOT NULL,
    lessons INTEGER NOT NULL CHECK (lessons >= 1),
    days INTEGER NOT NULL CHECK (days >= 1),
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, group_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id)
);
