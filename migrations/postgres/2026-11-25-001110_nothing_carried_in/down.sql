-- Nothing was said by it, and nothing is to come back.
SELECT 1;
