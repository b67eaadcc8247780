-- What a group was taught before its records here begin: lessons, as ids in teaching order.
CREATE TABLE carried_in (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    as_of TEXT NOT NULL CHECK (as_of IS date(as_of)),
    version_id BLOB NOT NULL CHECK (length(version_id) = 16),
    lessons TEXT NOT NULL CHECK (json_valid(lessons)),
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, group_id),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
) STRICT;

-- To whom, and the ids of the items each missed.
CREATE TABLE carried_in_pupil (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    group_id BLOB NOT NULL CHECK (length(group_id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    missed TEXT NOT NULL CHECK (json_valid(missed)),
    PRIMARY KEY (school_id, group_id, pupil_id),
    FOREIGN KEY (school_id, group_id) REFERENCES carried_in (school_id, group_id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;
CREATE INDEX carried_in_pupil_by_pupil ON carried_in_pupil (school_id, pupil_id);

-- Answers from before the records here, by pupil and day: outcomes by the id of the GPC.
CREATE TABLE carried_check (
    school_id BLOB NOT NULL CHECK (length(school_id) = 16),
    id BLOB NOT NULL CHECK (length(id) = 16),
    pupil_id BLOB NOT NULL CHECK (length(pupil_id) = 16),
    on_date TEXT NOT NULL CHECK (on_date IS date(on_date)),
    answers TEXT NOT NULL CHECK (json_valid(answers)),
    entered_by BLOB NOT NULL CHECK (length(entered_by) = 16),
    at INTEGER NOT NULL,
    v INTEGER NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, pupil_id, on_date),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
) STRICT;

-- A starting point said that everything before it was taught, without a day: it becomes carried in
-- as of the group's first day, for everyone who was ever in the group.
INSERT INTO carried_in (school_id, group_id, as_of, version_id, lessons, entered_by, at, v)
WITH planned AS (
    SELECT version.school_id, version.id AS version_id, version.sequence_id, version.number,
           step.key * 10000 + lesson.key AS place, json_extract(lesson.value, '$.id') AS id
    FROM sequence_version version, json_each(version.content, '$.steps') step,
         json_each(step.value, '$.lessons') lesson
), start AS (
    -- Of the latest version that holds it: a bare column comes from the row of the maximum.
    SELECT g.school_id, g.id AS group_id, g.v, planned.version_id, planned.place, max(planned.number)
    FROM teaching_group g
    JOIN planned ON planned.school_id = g.school_id AND planned.sequence_id = g.sequence_id
        AND replace(planned.id, '-', '') = lower(hex(g.start_lesson_id))
    GROUP BY g.school_id, g.id
)
SELECT start.school_id, start.group_id,
       coalesce((SELECT min(member.from_on) FROM group_member member
                 WHERE member.school_id = start.school_id AND member.group_id = start.group_id),
                version.effective_on),
       start.version_id,
       (SELECT json_group_array(id) FROM (
            SELECT planned.id FROM planned
            WHERE planned.school_id = start.school_id AND planned.version_id = start.version_id
                AND planned.place < start.place
            ORDER BY planned.place)),
       version.published_by, version.published_at, start.v
FROM start
JOIN sequence_version version ON version.school_id = start.school_id AND version.id = start.version_id
WHERE start.place > 0;
INSERT INTO carried_in_pupil (school_id, group_id, pupil_id, missed)
SELECT member.school_id, member.group_id, member.pupil_id, '[]'
FROM group_member member
JOIN carried_in ON carried_in.school_id = member.school_id AND carried_in.group_id = member.group_id
GROUP BY member.school_id, member.group_id, member.pupil_id;
ALTER TABLE teaching_group DROP COLUMN start_lesson_id;
