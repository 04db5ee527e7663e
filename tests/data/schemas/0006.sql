BEGIN TRANSACTION;
CREATE TABLE alembic_version (
	version_num VARCHAR(32) NOT NULL, 
	CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num)
);
INSERT INTO "alembic_version" VALUES('0006');
CREATE TABLE answers (
	id VARCHAR(32) NOT NULL, 
	open_set_id VARCHAR(32) NOT NULL, 
	token_hash VARCHAR(64) NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	body JSON NOT NULL, 
	state VARCHAR(24) DEFAULT 'held' NOT NULL, 
	grouped JSON, 
	CONSTRAINT pk_answers PRIMARY KEY (id), 
	CONSTRAINT ck_answers_state CHECK (state IN ('held', 'approved', 'refused')), 
	CONSTRAINT fk_answers_open_set_id_open_sets FOREIGN KEY(open_set_id) REFERENCES open_sets (id), 
	CONSTRAINT uq_answers_open_set_id_token_hash UNIQUE (open_set_id, token_hash)
);
INSERT INTO "answers" VALUES('bb0cf271558c0e8a','open000000000z01','aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa','2031-05-24T18:30:00.000000Z','{"words":"Zebedea leans forward"}','held',NULL);
CREATE TABLE audit (
	id VARCHAR(32) NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	who TEXT DEFAULT '' NOT NULL, 
	what VARCHAR(48) NOT NULL, 
	subject_kind VARCHAR(32) DEFAULT '' NOT NULL, 
	subject_id VARCHAR(64) DEFAULT '' NOT NULL, 
	detail JSON, 
	CONSTRAINT pk_audit PRIMARY KEY (id)
);
INSERT INTO "audit" VALUES('17d646d999958c18','2026-11-28T10:17:36.836467Z','coach','received','set','set0000000000z01','{"name":"Zebedea Quillfeather"}');
INSERT INTO "audit" VALUES('6ccc64859ff8d9ff','2026-11-28T10:17:36.836939Z','coach','received','set','set0000000000r01',NULL);
CREATE TABLE blobs (
	sha256 VARCHAR(64) NOT NULL, 
	bytes BIGINT NOT NULL, 
	media_type TEXT DEFAULT '' NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	kept_until VARCHAR(27), 
	keep_reason TEXT DEFAULT '' NOT NULL, gone_at VARCHAR(27), 
	CONSTRAINT pk_blobs PRIMARY KEY (sha256), 
	CONSTRAINT ck_blobs_sha256 CHECK (length(sha256) = 64)
);
INSERT INTO "blobs" VALUES('6054ba77af62c9d08ea94bc81022d2e139cfdfa7f121c14b90f8df7ab131b90b',31,'video/mp4','2031-05-24T18:30:00.000000Z',NULL,'',NULL);
INSERT INTO "blobs" VALUES('765c6a83089f45fd428d3646fb1ca6dd283df6cca6869611dded800a3b698aa0',15,'video/mp4','2031-05-24T18:30:00.000000Z',NULL,'',NULL);
INSERT INTO "blobs" VALUES('a895a5dda6c7b6141dd908c976503d26ba3e6ad2300bcba6b5370edea2b03c77',7,'video/mp4','2031-05-24T18:30:00.000000Z',NULL,'',NULL);
INSERT INTO "blobs" VALUES('79a048689c5112bb9ebe7c3d76aa695bfdd79fbf772271478ca94cfdc2a225e1',7,'video/mp4','2031-05-24T18:30:00.000000Z',NULL,'',NULL);
INSERT INTO "blobs" VALUES('d8d69662653e797ef1ef22bb3c30125f0746e7f49b7fe1d050f9fef2a1218ce6',26,'video/mp4','2031-05-24T18:30:00.000000Z',NULL,'',NULL);
INSERT INTO "blobs" VALUES('5b28e045b72ce8964f11071a1c2a0270301c84029b9edec60bed0e9cd427fe48',13,'video/mp4','2031-05-24T18:30:00.000000Z',NULL,'',NULL);
CREATE TABLE cases (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32) NOT NULL, 
	part_id VARCHAR(128) NOT NULL, 
	finding VARCHAR(64) NOT NULL, 
	"by" VARCHAR(24) DEFAULT 'measured' NOT NULL, 
	title TEXT DEFAULT '' NOT NULL, 
	threshold VARCHAR(64), 
	unit VARCHAR(16), 
	size FLOAT, 
	sd FLOAT, 
	floor FLOAT, 
	times_floor FLOAT DEFAULT '1' NOT NULL, 
	confidence VARCHAR(24), 
	rep INTEGER, 
	at_s FLOAT, 
	"view" VARCHAR(24), 
	raised BOOLEAN DEFAULT 1 NOT NULL, 
	decision VARCHAR(24) DEFAULT 'open' NOT NULL, 
	reason TEXT DEFAULT '' NOT NULL, 
	until DATE, 
	up_to_kg FLOAT, 
	noted_at VARCHAR(27) NOT NULL, 
	decided_at VARCHAR(27), 
	CONSTRAINT pk_cases PRIMARY KEY (id), 
	CONSTRAINT ck_cases_by CHECK (by IN ('measured', 'coach')), 
	CONSTRAINT ck_cases_confidence CHECK (confidence IN ('sure', 'likely', 'hint')), 
	CONSTRAINT ck_cases_view CHECK (view IN ('side', 'front_oblique', 'rear_oblique', 'front', 'rear', 'unknown')), 
	CONSTRAINT ck_cases_decision CHECK (decision IN ('open', 'kept', 'reworded', 'dropped', 'accepted', 'added')), 
	CONSTRAINT fk_cases_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT uq_cases_set_id_part_id UNIQUE (set_id, part_id)
);
INSERT INTO "cases" VALUES('44805f9bdc6f9bfa','set0000000000z01','change:squat_bar_forward','squat_bar_forward','measured','bar forward','forward_drift','mm',24.0,1.5,15.0,1.0,'sure',2,4.0,'side',1,'dropped','Zebedea Quillfeather wants it so',NULL,NULL,'2031-05-24T18:30:00.000000Z','2031-05-24T18:30:00.000000Z');
CREATE TABLE changes (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32) NOT NULL, 
	lifter_id VARCHAR(32), 
	part_id VARCHAR(128) NOT NULL, 
	text TEXT DEFAULT '' NOT NULL, 
	prediction JSON, 
	try_at JSON, 
	opened_at VARCHAR(27) NOT NULL, 
	state VARCHAR(24) DEFAULT 'open' NOT NULL, 
	closed_at VARCHAR(27), 
	CONSTRAINT pk_changes PRIMARY KEY (id), 
	CONSTRAINT ck_changes_state CHECK (state IN ('open', 'held', 'not_held', 'cannot_tell', 'closed')), 
	CONSTRAINT fk_changes_lifter_id_lifters FOREIGN KEY(lifter_id) REFERENCES lifters (id), 
	CONSTRAINT fk_changes_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT uq_changes_set_id_part_id UNIQUE (set_id, part_id)
);
INSERT INTO "changes" VALUES('change00000000z1','set0000000000z01','lifter00000000z1','change-forward','Push the floor away, Zebedea','{"measure":"path_departure_mm","direction":"less","size":6.0,"sd":2.0,"unit":"mm"}','{"max_load_pct":80.0,"max_rpe":7.0}','2031-05-24T18:30:00.000000Z','open',NULL);
CREATE TABLE "clips" (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32) NOT NULL, 
	sha256 VARCHAR(64) NOT NULL, 
	received_name TEXT DEFAULT ('') NOT NULL, 
	bytes BIGINT, 
	duration_s FLOAT, 
	width_px INTEGER, 
	height_px INTEGER, 
	view_said TEXT DEFAULT ('') NOT NULL, 
	position INTEGER DEFAULT '0' NOT NULL, 
	frame_sha256 VARCHAR(64), 
	proxy_sha256 VARCHAR(64), 
	probe JSON, 
	error TEXT DEFAULT ('') NOT NULL, 
	added_at VARCHAR(27) NOT NULL, 
	times_sha256 VARCHAR(64), 
	CONSTRAINT pk_clips PRIMARY KEY (id), 
	CONSTRAINT fk_clips_frame_sha256_blobs FOREIGN KEY(frame_sha256) REFERENCES blobs (sha256), 
	CONSTRAINT fk_clips_proxy_sha256_blobs FOREIGN KEY(proxy_sha256) REFERENCES blobs (sha256), 
	CONSTRAINT fk_clips_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT fk_clips_sha256_blobs FOREIGN KEY(sha256) REFERENCES blobs (sha256), 
	CONSTRAINT fk_clips_times_sha256_blobs FOREIGN KEY(times_sha256) REFERENCES blobs (sha256)
);
INSERT INTO "clips" VALUES('clip000000000z01','set0000000000z01','6054ba77af62c9d08ea94bc81022d2e139cfdfa7f121c14b90f8df7ab131b90b','zebedea.mp4',30,8.0,640,480,'',0,'a895a5dda6c7b6141dd908c976503d26ba3e6ad2300bcba6b5370edea2b03c77','79a048689c5112bb9ebe7c3d76aa695bfdd79fbf772271478ca94cfdc2a225e1','{"codec":"h264"}','','2031-05-24T18:30:00.000000Z',NULL);
INSERT INTO "clips" VALUES('clip000000000z02','set0000000000z02','765c6a83089f45fd428d3646fb1ca6dd283df6cca6869611dded800a3b698aa0','zebedea.mp4',30,8.0,640,480,'',0,'a895a5dda6c7b6141dd908c976503d26ba3e6ad2300bcba6b5370edea2b03c77',NULL,'{"codec":"h264"}','','2031-05-24T18:30:00.000000Z',NULL);
INSERT INTO "clips" VALUES('clip000000000r01','set0000000000r01','6054ba77af62c9d08ea94bc81022d2e139cfdfa7f121c14b90f8df7ab131b90b','IMG_0042.MP4',30,8.0,640,480,'',0,'5b28e045b72ce8964f11071a1c2a0270301c84029b9edec60bed0e9cd427fe48',NULL,'{"codec":"h264"}','','2031-05-24T18:30:00.000000Z',NULL);
CREATE TABLE consents (
	id VARCHAR(32) NOT NULL, 
	lifter_id VARCHAR(32), 
	set_id VARCHAR(32), 
	use VARCHAR(24) NOT NULL, 
	wording TEXT DEFAULT '' NOT NULL, 
	given_at VARCHAR(27) NOT NULL, 
	given_by VARCHAR(24) DEFAULT 'lifter' NOT NULL, 
	revoked_at VARCHAR(27), 
	CONSTRAINT pk_consents PRIMARY KEY (id), 
	CONSTRAINT ck_consents_given_by CHECK (given_by IN ('lifter', 'guardian', 'coach_noted')), 
	CONSTRAINT ck_consents_use CHECK (use IN ('review', 'public_page', 'edition', 'open_set', 'keep_original', 'voice', 'name', 'face', 'sound', 'pain', 'injury', 'body_mass', 'age')), 
	CONSTRAINT ck_consents_of_somebody CHECK (lifter_id IS NOT NULL OR set_id IS NOT NULL), 
	CONSTRAINT fk_consents_lifter_id_lifters FOREIGN KEY(lifter_id) REFERENCES lifters (id), 
	CONSTRAINT fk_consents_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id)
);
INSERT INTO "consents" VALUES('f2af300a9a71de31','lifter00000000z1',NULL,'review','Zebedea Quillfeather agrees to review','2031-05-24T18:30:00.000000Z','lifter',NULL);
INSERT INTO "consents" VALUES('6fb649c8ec6aca67','lifter00000000z1',NULL,'public_page','Zebedea Quillfeather agrees to public_page','2031-05-24T18:30:00.000000Z','lifter',NULL);
INSERT INTO "consents" VALUES('d3e4ffd72ca98275','lifter00000000z1',NULL,'edition','Zebedea Quillfeather agrees to edition','2031-05-24T18:30:00.000000Z','lifter',NULL);
INSERT INTO "consents" VALUES('f778832419e83116','lifter00000000z1',NULL,'open_set','Zebedea Quillfeather agrees to open_set','2031-05-24T18:30:00.000000Z','lifter',NULL);
INSERT INTO "consents" VALUES('6e0359a9dbfe435a',NULL,'set0000000000r01','edition','yes','2031-05-24T18:30:00.000000Z','lifter',NULL);
CREATE TABLE edition_segments (
	id VARCHAR(32) NOT NULL, 
	edition_id VARCHAR(32) NOT NULL, 
	position INTEGER NOT NULL, 
	set_id VARCHAR(32), 
	kind VARCHAR(24) DEFAULT 'review' NOT NULL, 
	target_s FLOAT, 
	script JSON, 
	CONSTRAINT pk_edition_segments PRIMARY KEY (id), 
	CONSTRAINT ck_edition_segments_kind CHECK (kind IN ('review', 'recap', 'open')), 
	CONSTRAINT fk_edition_segments_edition_id_editions FOREIGN KEY(edition_id) REFERENCES editions (id), 
	CONSTRAINT fk_edition_segments_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id)
);
INSERT INTO "edition_segments" VALUES('4e9943aad45913bb','edition0000000e1',0,NULL,'recap',90.0,'{"words":"hello"}');
INSERT INTO "edition_segments" VALUES('fd1146bf6f7bcb9d','edition0000000e1',1,'set0000000000r01','review',90.0,'{"words":"hello"}');
INSERT INTO "edition_segments" VALUES('590fea409e554788','edition0000000e1',2,'set0000000000z01','review',90.0,'{"words":"about Zebedea Quillfeather"}');
INSERT INTO "edition_segments" VALUES('8363d1ccf5efd3ea','edition0000000e1',3,'set0000000000z02','open',90.0,'{"words":"about Zebedea Quillfeather"}');
CREATE TABLE editions (
	id VARCHAR(32) NOT NULL, 
	title TEXT DEFAULT '' NOT NULL, 
	state VARCHAR(24) DEFAULT 'preparing' NOT NULL, 
	planned_on DATE, 
	created_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_editions PRIMARY KEY (id), 
	CONSTRAINT ck_editions_state CHECK (state IN ('preparing', 'ready', 'exported', 'archived'))
);
INSERT INTO "editions" VALUES('edition0000000e1','Week 22','preparing',NULL,'2031-05-24T18:30:00.000000Z');
CREATE TABLE follow_ups (
	id VARCHAR(32) NOT NULL, 
	change_id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32), 
	due_on DATE, 
	verdict VARCHAR(24), 
	detail JSON, 
	asked_at VARCHAR(27), 
	done_at VARCHAR(27), 
	CONSTRAINT pk_follow_ups PRIMARY KEY (id), 
	CONSTRAINT ck_follow_ups_verdict CHECK (verdict IN ('held', 'not_held', 'cannot_tell')), 
	CONSTRAINT fk_follow_ups_change_id_changes FOREIGN KEY(change_id) REFERENCES changes (id), 
	CONSTRAINT fk_follow_ups_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id)
);
INSERT INTO "follow_ups" VALUES('8e4642d5ffcd7c6a','change00000000z1','set0000000000z02','2031-06-14','held',NULL,NULL,NULL);
CREATE TABLE jobs (
	id VARCHAR(32) NOT NULL, 
	kind VARCHAR(24) NOT NULL, 
	"key" VARCHAR(160) NOT NULL, 
	payload JSON, 
	state VARCHAR(24) DEFAULT 'queued' NOT NULL, 
	priority INTEGER DEFAULT '0' NOT NULL, 
	attempt INTEGER DEFAULT '0' NOT NULL, 
	max_attempts INTEGER DEFAULT '3' NOT NULL, 
	lease_until VARCHAR(27), 
	heartbeat_at VARCHAR(27), 
	worker VARCHAR(64), 
	fence INTEGER DEFAULT '0' NOT NULL, 
	progress FLOAT, 
	message TEXT DEFAULT '' NOT NULL, 
	error TEXT DEFAULT '' NOT NULL, 
	result JSON, 
	not_before VARCHAR(27), 
	cancel_asked_at VARCHAR(27), 
	created_at VARCHAR(27) NOT NULL, 
	started_at VARCHAR(27), 
	finished_at VARCHAR(27), 
	CONSTRAINT pk_jobs PRIMARY KEY (id), 
	CONSTRAINT ck_jobs_state CHECK (state IN ('queued', 'running', 'done', 'failed', 'cancelled'))
);
INSERT INTO "jobs" VALUES('f98365cd7722fbf3','measure','clip000000000z01','{"set":"set0000000000z01","clip":"clip000000000z01"}','done',0,0,3,NULL,NULL,NULL,0,NULL,'','',NULL,NULL,NULL,'2031-05-24T18:30:00.000000Z',NULL,NULL);
INSERT INTO "jobs" VALUES('3fb02344bfa14f24','measure','clip000000000r01','{"set":"set0000000000r01","clip":"clip000000000r01"}','done',0,0,3,NULL,NULL,NULL,0,NULL,'','',NULL,NULL,NULL,'2031-05-24T18:30:00.000000Z',NULL,NULL);
CREATE TABLE lifters (
	id VARCHAR(32) NOT NULL, 
	name TEXT DEFAULT '' NOT NULL, 
	shown_name TEXT DEFAULT '' NOT NULL, 
	minor BOOLEAN, 
	guardian TEXT DEFAULT '' NOT NULL, 
	stature_m FLOAT, 
	sex VARCHAR(24), 
	blur_lifter BOOLEAN DEFAULT 0 NOT NULL, 
	depth_marks JSON, 
	notes TEXT DEFAULT '' NOT NULL, 
	competition_on DATE, 
	competition_name TEXT DEFAULT '' NOT NULL, 
	competition_rules TEXT DEFAULT '' NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	CONSTRAINT pk_lifters PRIMARY KEY (id), 
	CONSTRAINT ck_lifters_sex CHECK (sex IN ('female', 'male', 'mx'))
);
INSERT INTO "lifters" VALUES('lifter00000000z1','Zebedea Quillfeather','Zeb',0,'',1.71,'female',0,'{"offset_mm":22.0}','prefers calls to text','2031-07-05','Harbour Open','','2031-05-24T18:30:00.000000Z');
INSERT INTO "lifters" VALUES('lifter00000000r1','Ruthven Oakapple','Ruthven',NULL,'',NULL,NULL,0,NULL,'',NULL,'','','2031-05-24T18:30:00.000000Z');
CREATE TABLE links (
	id VARCHAR(32) NOT NULL, 
	token_hash VARCHAR(64) NOT NULL, 
	scope VARCHAR(32) NOT NULL, 
	lifter_id VARCHAR(32), 
	limits JSON, 
	created_at VARCHAR(27) NOT NULL, 
	expires_at VARCHAR(27), 
	revoked_at VARCHAR(27), 
	uses INTEGER DEFAULT '0' NOT NULL, 
	max_uses INTEGER, 
	CONSTRAINT pk_links PRIMARY KEY (id), 
	CONSTRAINT fk_links_lifter_id_lifters FOREIGN KEY(lifter_id) REFERENCES lifters (id), 
	CONSTRAINT uq_links_token_hash UNIQUE (token_hash)
);
INSERT INTO "links" VALUES('b3fba6c5747e00c5','bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb','intake','lifter00000000z1',NULL,'2031-05-24T18:30:00.000000Z',NULL,NULL,0,NULL);
CREATE TABLE measurements (
	id VARCHAR(32) NOT NULL, 
	clip_id VARCHAR(32) NOT NULL, 
	input_key VARCHAR(64) NOT NULL, 
	step_versions JSON, 
	repairs_to INTEGER DEFAULT '0' NOT NULL, 
	folder TEXT NOT NULL, 
	summary JSON, 
	is_current BOOLEAN DEFAULT 1 NOT NULL, 
	created_at VARCHAR(27) NOT NULL, numbers JSON, judged TEXT, "view" VARCHAR(24), 
	CONSTRAINT pk_measurements PRIMARY KEY (id), 
	CONSTRAINT fk_measurements_clip_id_clips FOREIGN KEY(clip_id) REFERENCES clips (id), 
	CONSTRAINT uq_measurements_clip_id_input_key UNIQUE (clip_id, input_key)
);
INSERT INTO "measurements" VALUES('15c443939c9bd093','clip000000000z01','ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff','{"bar":"3"}',0,'measured/clip000000000z01/ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff','{"reps":2}',1,'2031-05-24T18:30:00.000000Z','{"view":{"class":"side","yaw_deg":1},"scale_pct":0.7,"best_rep":null,"reps":2,"levels":{"range_of_motion_mm":{"value":500.0,"sd":3.6187,"unit":"mm","reps":2},"path_departure_mm":{"value":6.0,"sd":6.0008,"unit":"mm","reps":2},"trunk_angle_low_deg":{"value":41.0,"sd":6.1644,"unit":"deg","reps":2},"velocity_loss_pct":{"value":12.0,"sd":2.0,"unit":"%","reps":0}}}',NULL,NULL);
INSERT INTO "measurements" VALUES('6c8ec1e3fbdd7dad','clip000000000z02','ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff','{"bar":"3"}',0,'measured/clip000000000z02/ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff','{"reps":2}',1,'2031-05-24T18:30:00.000000Z','{"view":{"class":"side","yaw_deg":1},"scale_pct":0.7,"best_rep":null,"reps":2,"levels":{"range_of_motion_mm":{"value":500.0,"sd":3.6187,"unit":"mm","reps":2},"path_departure_mm":{"value":6.0,"sd":6.0008,"unit":"mm","reps":2},"trunk_angle_low_deg":{"value":41.0,"sd":6.1644,"unit":"deg","reps":2},"velocity_loss_pct":{"value":12.0,"sd":2.0,"unit":"%","reps":0}}}',NULL,NULL);
INSERT INTO "measurements" VALUES('d0f2c7307b0d3e86','clip000000000r01','ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff','{"bar":"3"}',0,'measured/clip000000000r01/ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff','{"reps":2}',1,'2031-05-24T18:30:00.000000Z','{"view":{"class":"side","yaw_deg":1},"scale_pct":0.7,"best_rep":null,"reps":2,"levels":{"range_of_motion_mm":{"value":500.0,"sd":3.6187,"unit":"mm","reps":2},"path_departure_mm":{"value":6.0,"sd":6.0008,"unit":"mm","reps":2},"trunk_angle_low_deg":{"value":41.0,"sd":6.1644,"unit":"deg","reps":2},"velocity_loss_pct":{"value":12.0,"sd":2.0,"unit":"%","reps":0}}}',NULL,NULL);
CREATE TABLE open_sets (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32) NOT NULL, 
	edition_id VARCHAR(32), 
	opens_at VARCHAR(27), 
	closes_at VARCHAR(27), 
	token VARCHAR(64) NOT NULL, 
	state VARCHAR(24) DEFAULT 'preparing' NOT NULL, 
	CONSTRAINT pk_open_sets PRIMARY KEY (id), 
	CONSTRAINT ck_open_sets_state CHECK (state IN ('preparing', 'open', 'closed', 'recapped', 'withdrawn')), 
	CONSTRAINT fk_open_sets_edition_id_editions FOREIGN KEY(edition_id) REFERENCES editions (id), 
	CONSTRAINT fk_open_sets_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT uq_open_sets_token UNIQUE (token)
);
INSERT INTO "open_sets" VALUES('open000000000z01','set0000000000z02','edition0000000e1','2031-05-24T18:30:00.000000Z',NULL,'opentoken','open');
CREATE TABLE publications (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32), 
	edition_id VARCHAR(32), 
	kind VARCHAR(24) DEFAULT 'lifter' NOT NULL, 
	token VARCHAR(64) NOT NULL, 
	folder TEXT NOT NULL, 
	audience JSON, 
	published_at VARCHAR(27) NOT NULL, 
	revoked_at VARCHAR(27), 
	CONSTRAINT pk_publications PRIMARY KEY (id), 
	CONSTRAINT ck_publications_kind CHECK (kind IN ('lifter', 'public', 'edition', 'open_set')), 
	CONSTRAINT fk_publications_edition_id_editions FOREIGN KEY(edition_id) REFERENCES editions (id), 
	CONSTRAINT fk_publications_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT uq_publications_token UNIQUE (token)
);
INSERT INTO "publications" VALUES('c14f30271e70417d','set0000000000z01',NULL,'lifter','ztokenl','published/l/ztokenl',NULL,'2031-05-24T18:30:00.000000Z',NULL);
INSERT INTO "publications" VALUES('bdcec46deb809443','set0000000000z01',NULL,'public','ztokenp','published/p/ztokenp',NULL,'2031-05-24T18:30:00.000000Z',NULL);
INSERT INTO "publications" VALUES('8795fdd1eadd633d','set0000000000r01',NULL,'lifter','rtokenl','published/l/rtokenl',NULL,'2031-05-24T18:30:00.000000Z',NULL);
CREATE TABLE repairs (
	id VARCHAR(32) NOT NULL, 
	clip_id VARCHAR(32) NOT NULL, 
	n INTEGER NOT NULL, 
	kind VARCHAR(24) NOT NULL, 
	body JSON NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	undone_at VARCHAR(27), 
	CONSTRAINT pk_repairs PRIMARY KEY (id), 
	CONSTRAINT fk_repairs_clip_id_clips FOREIGN KEY(clip_id) REFERENCES clips (id), 
	CONSTRAINT uq_repairs_clip_id_n UNIQUE (clip_id, n)
);
INSERT INTO "repairs" VALUES('7f242b1015350573','clip000000000z01',1,'bar_at','{"x_px":320,"y_px":140,"at_s":2.0}','2031-05-24T18:30:00.000000Z',NULL);
CREATE TABLE review_edits (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32) NOT NULL, 
	n INTEGER NOT NULL, 
	edit_id VARCHAR(64) NOT NULL, 
	edit JSON NOT NULL, 
	at VARCHAR(27) NOT NULL, 
	"by" TEXT DEFAULT '' NOT NULL, 
	CONSTRAINT pk_review_edits PRIMARY KEY (id), 
	CONSTRAINT fk_review_edits_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT uq_review_edits_set_id_edit_id UNIQUE (set_id, edit_id), 
	CONSTRAINT uq_review_edits_set_id_n UNIQUE (set_id, n)
);
INSERT INTO "review_edits" VALUES('61409b0b589862ae','set0000000000z01',1,'e1','{"id":"e1","kind":"note","part":"","reps":[],"at_s":[],"length":"lifter","text":"Zebedea Quillfeather is nervous about Saturday","reason":"","until":null,"up_to_kg":null,"section":null,"about":"","try_text":"","meaning":null,"points_px":[],"order":[],"undoes":"","which":"text","saw":""}','2026-11-28T10:17:36.804155Z','coach');
INSERT INTO "review_edits" VALUES('d723f97539926c32','set0000000000z01',2,'e2','{"id":"e2","kind":"keep","part":"good-path","reps":[],"at_s":[],"length":"lifter","text":"","reason":"","until":null,"up_to_kg":null,"section":null,"about":"","try_text":"","meaning":null,"points_px":[],"order":[],"undoes":"","which":"text","saw":""}','2026-11-28T10:17:36.804795Z','coach');
INSERT INTO "review_edits" VALUES('0df5bb8ed1bde413','set0000000000r01',1,'e1','{"id":"e1","kind":"note","part":"","reps":[],"at_s":[],"length":"lifter","text":"ask about the belt","reason":"","until":null,"up_to_kg":null,"section":null,"about":"","try_text":"","meaning":null,"points_px":[],"order":[],"undoes":"","which":"text","saw":""}','2026-11-28T10:17:36.805196Z','coach');
CREATE TABLE sessions (
	id VARCHAR(32) NOT NULL, 
	token_hash VARCHAR(64) NOT NULL, 
	who TEXT DEFAULT '' NOT NULL, 
	created_at VARCHAR(27) NOT NULL, 
	seen_at VARCHAR(27), 
	expires_at VARCHAR(27), 
	revoked_at VARCHAR(27), 
	CONSTRAINT pk_sessions PRIMARY KEY (id), 
	CONSTRAINT uq_sessions_token_hash UNIQUE (token_hash)
);
INSERT INTO "sessions" VALUES('8a013f58d731be10','cccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccccc','coach','2031-05-24T18:30:00.000000Z',NULL,NULL,NULL);
CREATE TABLE sets (
	id VARCHAR(32) NOT NULL, 
	lifter_id VARCHAR(32), 
	lift VARCHAR(24), 
	variation TEXT DEFAULT '' NOT NULL, 
	load_kg FLOAT, 
	received_at VARCHAR(27) NOT NULL, 
	source VARCHAR(24) DEFAULT 'drop' NOT NULL, 
	context JSON, 
	context_confirmed BOOLEAN DEFAULT 0 NOT NULL, 
	pasted_text TEXT DEFAULT '' NOT NULL, 
	state VARCHAR(24) DEFAULT 'new' NOT NULL, 
	picked VARCHAR(24) DEFAULT 'none' NOT NULL, 
	waiting VARCHAR(24) DEFAULT 'none' NOT NULL, 
	waiting_note TEXT DEFAULT '' NOT NULL, 
	archived_at VARCHAR(27), 
	main_clip_id VARCHAR(32), 
	accepted_reference_set_id VARCHAR(32), 
	CONSTRAINT pk_sets PRIMARY KEY (id), 
	CONSTRAINT ck_sets_lift CHECK (lift IN ('squat', 'bench', 'deadlift')), 
	CONSTRAINT ck_sets_picked CHECK (picked IN ('none', 'review', 'edition')), 
	CONSTRAINT ck_sets_source CHECK (source IN ('drop', 'watch', 'cli', 'intake', 'demo')), 
	CONSTRAINT ck_sets_state CHECK (state IN ('new', 'measuring', 'ready', 'failed')), 
	CONSTRAINT ck_sets_waiting CHECK (waiting IN ('none', 'refilm', 'answer')), 
	CONSTRAINT fk_sets_accepted_reference_set_id_sets FOREIGN KEY(accepted_reference_set_id) REFERENCES sets (id), 
	CONSTRAINT fk_sets_lifter_id_lifters FOREIGN KEY(lifter_id) REFERENCES lifters (id)
);
INSERT INTO "sets" VALUES('set0000000000z01','lifter00000000z1','squat','',100.0,'2031-05-24T18:30:00.000000Z','drop','{"schema":"midfoot/context/1","title":null,"lifter":"Zebedea Quillfeather","age_years":null,"sex":null,"body_mass_kg":68.5,"stature_m":null,"training_age_years":null,"lift":"squat","variation":null,"load_kg":100.0,"load_unit":null,"plate_mm":null,"reps":null,"rpe":null,"rir":null,"equipment":[],"spotter":null,"safeties":null,"question":null,"working_on":[],"pain":"left knee, a little","injury":null,"competition":{"on":"2031-07-05","rules":null,"name":"Harbour Open"},"consents":[{"use":"public","wording":"yes, show it","given_on":"2031-05-24"}],"filmed":null,"depth_offset_mm":null,"depth_offset_sd_mm":null,"read_on":"2031-05-24","under_18":null,"sha256":null}',1,'Hi, Zebedea Quillfeather here, 100 kg','ready','review','none','',NULL,'clip000000000z01',NULL);
INSERT INTO "sets" VALUES('set0000000000z02','lifter00000000z1','squat','',105.0,'2031-06-14T18:30:00.000000Z','drop','{"schema":"midfoot/context/1","title":null,"lifter":"Zebedea Quillfeather","age_years":null,"sex":null,"body_mass_kg":68.5,"stature_m":null,"training_age_years":null,"lift":"squat","variation":null,"load_kg":105.0,"load_unit":null,"plate_mm":null,"reps":null,"rpe":null,"rir":null,"equipment":[],"spotter":null,"safeties":null,"question":null,"working_on":[],"pain":"left knee, a little","injury":null,"competition":{"on":"2031-07-05","rules":null,"name":"Harbour Open"},"consents":[{"use":"public","wording":"yes, show it","given_on":"2031-06-14"}],"filmed":null,"depth_offset_mm":null,"depth_offset_sd_mm":null,"read_on":"2031-06-14","under_18":null,"sha256":null}',1,'Hi, Zebedea Quillfeather here, 105 kg','ready','review','none','',NULL,'clip000000000z02',NULL);
INSERT INTO "sets" VALUES('set0000000000r01','lifter00000000r1','squat','',140.0,'2031-05-25T18:30:00.000000Z','drop','{"schema":"midfoot/context/1","title":null,"lifter":"Ruthven Oakapple","age_years":null,"sex":null,"body_mass_kg":68.5,"stature_m":null,"training_age_years":null,"lift":"squat","variation":null,"load_kg":140.0,"load_unit":null,"plate_mm":null,"reps":null,"rpe":null,"rir":null,"equipment":[],"spotter":null,"safeties":null,"question":null,"working_on":[],"pain":"left knee, a little","injury":null,"competition":{"on":"2031-07-05","rules":null,"name":"Harbour Open"},"consents":[{"use":"public","wording":"yes, show it","given_on":"2031-05-25"}],"filmed":null,"depth_offset_mm":null,"depth_offset_sd_mm":null,"read_on":"2031-05-25","under_18":null,"sha256":null}',1,'Hi, Ruthven Oakapple here, 140 kg','ready','review','none','',NULL,'clip000000000r01',NULL);
CREATE TABLE settings (
	"key" VARCHAR(64) NOT NULL, 
	value JSON, 
	CONSTRAINT pk_settings PRIMARY KEY ("key")
);
INSERT INTO "settings" VALUES('units','{"load":"kg"}');
CREATE TABLE takes (
	id VARCHAR(32) NOT NULL, 
	set_id VARCHAR(32) NOT NULL, 
	n INTEGER NOT NULL, 
	audio_sha256 VARCHAR(64), 
	events JSON, 
	duration_s FLOAT, 
	covers_from_s FLOAT, 
	covers_to_s FLOAT, 
	replaces VARCHAR(32), 
	created_at VARCHAR(27) NOT NULL, 
	deleted_at VARCHAR(27), 
	CONSTRAINT pk_takes PRIMARY KEY (id), 
	CONSTRAINT fk_takes_audio_sha256_blobs FOREIGN KEY(audio_sha256) REFERENCES blobs (sha256), 
	CONSTRAINT fk_takes_replaces_takes FOREIGN KEY(replaces) REFERENCES takes (id), 
	CONSTRAINT fk_takes_set_id_sets FOREIGN KEY(set_id) REFERENCES sets (id), 
	CONSTRAINT uq_takes_set_id_n UNIQUE (set_id, n)
);
INSERT INTO "takes" VALUES('take000000000z01','set0000000000z01',1,'d8d69662653e797ef1ef22bb3c30125f0746e7f49b7fe1d050f9fef2a1218ce6','[{"t_s":0.0,"kind":"play"}]',20.0,NULL,NULL,NULL,'2031-05-24T18:30:00.000000Z',NULL);
CREATE INDEX ix_audit_at ON audit (at);
CREATE INDEX ix_audit_subject ON audit (subject_kind, subject_id);
CREATE INDEX ix_jobs_next ON jobs (state, priority, created_at);
CREATE UNIQUE INDEX uq_jobs_live ON jobs (kind, "key") WHERE state IN ('queued', 'running');
CREATE INDEX ix_links_lifter_id ON links (lifter_id);
CREATE INDEX ix_sets_accepted_reference_set_id ON sets (accepted_reference_set_id);
CREATE INDEX ix_sets_lifter_id ON sets (lifter_id);
CREATE INDEX ix_sets_received_at ON sets (received_at);
CREATE INDEX ix_changes_lifter_id ON changes (lifter_id);
CREATE INDEX ix_changes_set_id ON changes (set_id);
CREATE INDEX ix_consents_lifter_id ON consents (lifter_id);
CREATE INDEX ix_consents_set_id ON consents (set_id);
CREATE INDEX ix_edition_segments_edition_id ON edition_segments (edition_id);
CREATE INDEX ix_edition_segments_set_id ON edition_segments (set_id);
CREATE INDEX ix_open_sets_edition_id ON open_sets (edition_id);
CREATE INDEX ix_open_sets_set_id ON open_sets (set_id);
CREATE INDEX ix_publications_edition_id ON publications (edition_id);
CREATE INDEX ix_publications_set_id ON publications (set_id);
CREATE INDEX ix_review_edits_set_id ON review_edits (set_id);
CREATE INDEX ix_takes_audio_sha256 ON takes (audio_sha256);
CREATE INDEX ix_takes_replaces ON takes (replaces);
CREATE INDEX ix_takes_set_id ON takes (set_id);
CREATE INDEX ix_answers_open_set_id ON answers (open_set_id);
CREATE INDEX ix_follow_ups_change_id ON follow_ups (change_id);
CREATE INDEX ix_follow_ups_due_on ON follow_ups (due_on);
CREATE INDEX ix_follow_ups_set_id ON follow_ups (set_id);
CREATE INDEX ix_measurements_clip_id ON measurements (clip_id);
CREATE UNIQUE INDEX uq_measurements_current ON measurements (clip_id) WHERE is_current IS 1;
CREATE INDEX ix_repairs_clip_id ON repairs (clip_id);
CREATE INDEX ix_clips_frame_sha256 ON clips (frame_sha256);
CREATE INDEX ix_clips_set_id ON clips (set_id);
CREATE INDEX ix_clips_proxy_sha256 ON clips (proxy_sha256);
CREATE INDEX ix_clips_sha256 ON clips (sha256);
CREATE INDEX ix_clips_times_sha256 ON clips (times_sha256);
CREATE INDEX ix_cases_set_id ON cases (set_id);
CREATE INDEX ix_cases_counted ON cases (finding, "by", decision, raised, confidence, set_id);
CREATE INDEX ix_measurements_judged ON measurements (clip_id, is_current, judged, "view");
COMMIT;
