-- bytes: of the text. counted: its distinct words with how often each stands in it, made when the
-- book is saved; null for one not saved since.
ALTER TABLE book ADD COLUMN bytes INTEGER NOT NULL DEFAULT 0;
ALTER TABLE book ADD COLUMN counted TEXT;
UPDATE book SET bytes = length(CAST(words AS BLOB));
CREATE INDEX book_by_size ON book (school_id, bytes);
