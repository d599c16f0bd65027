-- "insert or replace" deletes without the triggers on delete, so a row that exists
-- is refused before it is written.
CREATE TRIGGER leaf_once BEFORE INSERT ON leaf WHEN EXISTS (SELECT 1 FROM leaf WHERE idx = NEW.idx) OR EXISTS (SELECT 1 FROM leaf WHERE case_id = NEW.case_id AND revision = NEW.revision) BEGIN SELECT RAISE(ABORT, 'a signed statement stays'); END;
CREATE TRIGGER hash_once BEFORE INSERT ON hash WHEN EXISTS (SELECT 1 FROM hash WHERE idx = NEW.idx) BEGIN SELECT RAISE(ABORT, 'a hash stays'); END;
CREATE TRIGGER checkpoint_once BEFORE INSERT ON checkpoint WHEN EXISTS (SELECT 1 FROM checkpoint WHERE size = NEW.size) BEGIN SELECT RAISE(ABORT, 'a checkpoint stays'); END;
CREATE TRIGGER dispatch_once BEFORE INSERT ON dispatch WHEN EXISTS (SELECT 1 FROM dispatch WHERE seq = NEW.seq) BEGIN SELECT RAISE(ABORT, 'what was sent stays'); END;
