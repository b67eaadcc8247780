-- A starting point behind an empty first step made a group one that was taught no lesson before.
DELETE FROM carried_in_pupil WHERE EXISTS (
    SELECT 1 FROM carried_in
    WHERE carried_in.school_id = carried_in_pupil.school_id AND carried_in.group_id = carried_in_pupil.group_id
        AND CAST(carried_in.lessons AS TEXT) = '[]');
DELETE FROM carried_in WHERE CAST(lessons AS TEXT) = '[]';
