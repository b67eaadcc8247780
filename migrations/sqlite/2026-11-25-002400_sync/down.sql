DROP INDEX change_by_record;
DELETE FROM change WHERE rec_kind = 'staff_name';
ALTER TABLE school DROP COLUMN places_on;
DROP TABLE held_op;
DROP TABLE op;
DROP TABLE replica;
DROP TABLE tablet;
