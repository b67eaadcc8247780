-- Which of a day's answers another school's file brought, so that they can be taken back and no others.
ALTER TABLE carried_check ADD COLUMN transferred JSON NOT NULL DEFAULT '[]';
