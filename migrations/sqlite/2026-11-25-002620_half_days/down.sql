-- A day of which a member came to a half is a whole one again.
CREATE TABLE member_days_old (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    from_on TEXT NOT NULL CHECK (from_on IS date(from_on)),
    weekdays INTEGER CHECK (weekdays BETWEEN 1 AND 127),
    PRIMARY KEY (school_id, group_id, pupil_id, from_on),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
INSERT INTO member_days_old
    SELECT school_id, group_id, pupil_id, from_on, (weekdays | (weekdays >> 7)) & 127 FROM member_days;
DROP TABLE member_days;
ALTER TABLE member_days_old RENAME TO member_days;
