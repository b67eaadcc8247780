-- When the last file of a school and half term was signed, kept when the file is dropped and when the school leaves the list:
-- none that is not newer is taken. Of files taken before this, when they were taken, which is no earlier.
CREATE TABLE trust_file_signed (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    member_id BLOB NOT NULL CHECK (length(member_id) = 16),
    school_year INTEGER NOT NULL,
    -- As it is found, however it is written.
    half_term TEXT NOT NULL,
    signed_at INTEGER NOT NULL,
    PRIMARY KEY (school_id, member_id, school_year, half_term),
    FOREIGN KEY (school_id) REFERENCES school (id)
) STRICT;
INSERT INTO trust_file_signed (school_id, member_id, school_year, half_term, signed_at)
    SELECT school_id, member_id, school_year, lower(replace(half_term, ' ', '')), max(taken_at)
    FROM trust_file GROUP BY 1, 2, 3, 4;

ALTER TABLE trust_school ADD COLUMN v INTEGER NOT NULL DEFAULT 1;
