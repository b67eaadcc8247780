DROP INDEX book_by_size;
ALTER TABLE book DROP COLUMN counted;
ALTER TABLE book DROP COLUMN bytes;
