-- When it was stored, by the clock of the house, beside when it was measured and when it
-- arrived. NULL where nobody said, as in what was
-- stored before this was kept.
ALTER TABLE journal ADD COLUMN stored INTEGER;
ALTER TABLE series ADD COLUMN stored INTEGER; -- the newest
