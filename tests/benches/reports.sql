WITH of_pupil AS (
    SELECT school_id, round_id, pupil_id, count(*) AS offered,
           sum(CASE outcome WHEN 'right' THEN 1 ELSE 0 END) AS correct
    FROM response WHERE corrects IS NULL
    GROUP BY school_id, round_id, pupil_id
), one AS (
    SELECT p.school_id AS school, p.round_id AS round, y.year_group AS year, m.class_id AS class, p.pupil_id AS pupil,
           p.offered, p.correct
    FROM of_pupil p
    JOIN class_member m ON m.school_id = p.school_id AND m.pupil_id = p.pupil_id
    JOIN pupil_year y ON y.school_id = p.school_id AND y.pupil_id = p.pupil_id AND y.year = 2026
), said AS (
    SELECT one.*, '' AS field, '' AS value FROM one
    UNION ALL SELECT one.*, f.field, f.value
    FROM one JOIN pupil_field f ON f.school_id = one.school AND f.pupil_id = one.pupil
), of_class AS (
    SELECT round, year, class, field, value, sum(offered) AS offered, sum(correct) AS correct
    FROM said GROUP BY round, year, class, field, value
)
SELECT round, year, class, field, value, offered, correct FROM of_class
UNION ALL SELECT round, year, NULL, field, value, sum(offered), sum(correct) FROM of_class
    GROUP BY round, year, field, value
UNION ALL SELECT round, NULL, NULL, field, value, sum(offered), sum(correct) FROM of_class GROUP BY round, field, value
