-- What a group was taught before its records here begin: lessons, as ids in teaching order.
CREATE TABLE carried_in (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    as_of DATE NOT NULL,
    version_id UUID NOT NULL,
    lessons JSON NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, group_id),
    FOREIGN KEY (school_id, group_id) REFERENCES teaching_group (school_id, id),
    FOREIGN KEY (school_id, version_id) REFERENCES sequence_version (school_id, id)
);

-- To whom, and the ids of the items each missed.
CREATE TABLE carried_in_pupil (
    school_id UUID NOT NULL,
    group_id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    missed JSON NOT NULL,
    PRIMARY KEY (school_id, group_id, pupil_id),
    FOREIGN KEY (school_id, group_id) REFERENCES carried_in (school_id, group_id),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);
CREATE INDEX carried_in_pupil_by_pupil ON carried_in_pupil (school_id, pupil_id);

-- Answers from before the records here, by pupil and day: outcomes by the id of the GPC.
CREATE TABLE carried_check (
    school_id UUID NOT NULL,
    id UUID NOT NULL,
    pupil_id UUID NOT NULL,
    on_date DATE NOT NULL,
    answers JSON NOT NULL,
    entered_by UUID NOT NULL,
    at TIMESTAMPTZ NOT NULL,
    v BIGINT NOT NULL,
    PRIMARY KEY (school_id, id),
    UNIQUE (school_id, pupil_id, on_date),
    FOREIGN KEY (school_id, pupil_id) REFERENCES pupil (school_id, id)
);

-- A starting point said that everything before it was taught, without a day: it becomes carried in
-- as of the group's first day, for everyone who was ever in the group.
WITH planned AS (
    SELECT version.school_id, version.id AS version_id, version.sequence_id, version.number,
           step.n * 10000 + lesson.n AS place, (lesson.value ->> 'id')::UUID AS id
    FROM sequence_version version,
         json_array_elements(version.content -> 'steps') WITH ORDINALITY AS step (value, n),
         json_array_elements(step.value -> 'lessons') WITH ORDINALITY AS lesson (value, n)
), start AS (
    -- Of the latest version that holds it.
    SELECT DISTINCT ON (g.school_id, g.id) g.school_id, g.id AS group_id, g.v, planned.version_id,
           planned.place
    FROM teaching_group g
    JOIN planned ON planned.school_id = g.school_id AND planned.sequence_id = g.sequence_id
        AND planned.id = g.start_lesson_id
    ORDER BY g.school_id, g.id, planned.number DESC
)
INSERT INTO carried_in (school_id, group_id, as_of, version_id, lessons, entered_by, at, v)
SELECT start.school_id, start.group_id,
       coalesce((SELECT min(member.from_on) FROM group_member member
                 WHERE member.school_id = start.school_id AND member.group_id = start.group_id),
                version.effective_on),
       start.version_id,
       (SELECT json_agg(planned.id ORDER BY planned.place) FROM planned
        WHERE planned.school_id = start.school_id AND planned.version_id = start.version_id
            AND planned.place < start.place),
       version.published_by, version.published_at, start.v
FROM start
JOIN sequence_version version ON version.school_id = start.school_id AND version.id = start.version_id
WHERE EXISTS (SELECT 1 FROM planned
              WHERE planned.school_id = start.school_id AND planned.version_id = start.version_id
                  AND planned.place < start.place);
INSERT INTO carried_in_pupil (school_id, group_id, pupil_id, missed)
SELECT member.school_id, member.group_id, member.pupil_id, '[]'
FROM group_member member
JOIN carried_in ON carried_in.school_id = member.school_id AND carried_in.group_id = member.group_id
GROUP BY member.school_id, member.group_id, member.pupil_id;
ALTER TABLE teaching_group DROP COLUMN start_lesson_id;
