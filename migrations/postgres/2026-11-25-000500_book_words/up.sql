-- bytes: of the text. counted: its distinct words with how often each stands in it, made when the
-- book is saved; null for one not saved since.
ALTER TABLE book ADD COLUMN bytes BIGINT NOT NULL DEFAULT 0;
ALTER TABLE book ADD COLUMN counted JSON;
UPDATE book SET bytes = octet_length(words);
CREATE INDEX book_by_size ON book (school_id, bytes);
