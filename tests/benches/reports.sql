WITH one AS (
    SELECT r.round_id AS round, y.year_group AS year, m.class_id AS class, r.pupil_id AS pupil,
           count(*) AS offered, sum(CASE r.outcome WHEN 'right' THEN 1 ELSE 0 END) AS correct
    FROM response r
    JOIN class_member m ON m.school_id = r.school_id AND m.pupil_id = r.pupil_id
    JOIN pupil_year y ON y.school_id = r.school_id AND y.pupil_id = r.pupil_id AND y.year = 2026
    WHERE r.corrects IS NULL
    GROUP BY r.round_id, y.year_group, m.class_id, r.pupil_id
), said AS (
    SELECT one.*, '' AS field, '' AS value FROM one
    UNION ALL SELECT one.*, f.field, f.value FROM one JOIN pupil_field f ON f.pupil_id = one.pupil
), of_class AS (
    SELECT round, year, class, field, value, sum(offered) AS offered, sum(correct) AS correct
    FROM said GROUP BY round, year, class, field, value
)
SELECT round, year, class, field, value, offered, correct FROM of_class
UNION ALL SELECT round, year, NULL, field, value, sum(offered), sum(correct) FROM of_class
    GROUP BY round, year, field, value
UNION ALL SELECT round, NULL, NULL, field, value, sum(offered), sum(correct) FROM of_class GROUP BY round, field, value
