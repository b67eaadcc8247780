-- Weekdays of which a member comes to a half. Bits 0 to 6 alone are whole days, Monday first; bits 7 to 13 say a half: the
-- morning where the day's lower bit is not set, else the afternoon.
CREATE TABLE member_days_new (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    weekdays INTEGER CHECK (weekdays BETWEEN 1 AND 16383),
    PRIMARY KEY (school_id, group_id, pupil_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
INSERT INTO member_days_new SELECT school_id, group_id, pupil_id, from_on, weekdays FROM member_days;
DROP TABLE member_days;
ALTER TABLE member_days_new RENAME TO member_days;
