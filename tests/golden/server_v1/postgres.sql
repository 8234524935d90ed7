CREATE FUNCTION public.refuse_audit_change() RETURNS trigger
    LANGUAGE plpgsql
    AS $$ BEGIN RAISE EXCEPTION 'audit is append-only'; END $$;
CREATE TABLE public.alembic_version (
    version_num character varying(32) NOT NULL
);
CREATE TABLE public.audit (
    id bigint NOT NULL,
    at timestamp with time zone NOT NULL,
    who character varying(120) NOT NULL,
    what character varying(60) NOT NULL,
    subject character varying(120) NOT NULL,
    old json NOT NULL,
    new json NOT NULL
);
CREATE SEQUENCE public.audit_id_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.audit_id_seq OWNED BY public.audit.id;
CREATE TABLE public.device (
    id uuid NOT NULL,
    token_sha character varying(64) NOT NULL,
    label character varying(120) NOT NULL,
    enrolled_at timestamp with time zone NOT NULL,
    revoked_at timestamp with time zone,
    last_heard_at timestamp with time zone,
    app_build character varying(64)
);
CREATE TABLE public.feed_clock (
    id integer NOT NULL,
    n integer NOT NULL
);
CREATE TABLE public.index_rev (
    serial integer NOT NULL,
    routes json NOT NULL,
    published_at timestamp with time zone NOT NULL
);
CREATE TABLE public.pack_file (
    sha character varying(64) NOT NULL,
    kind character varying(20) NOT NULL,
    size integer NOT NULL,
    gz bytea NOT NULL
);
CREATE TABLE public.report (
    server_no bigint NOT NULL,
    id uuid NOT NULL,
    device_id uuid,
    install_id uuid NOT NULL,
    seq integer NOT NULL,
    payload_sha character varying(64) NOT NULL,
    item json NOT NULL,
    line_key character varying(120) NOT NULL,
    direction character varying(120) NOT NULL,
    at_m double precision,
    found character varying(20) NOT NULL,
    rail_state character varying(120),
    pack_sha character varying(64),
    supersedes uuid,
    observed_at timestamp with time zone NOT NULL,
    sent_at timestamp with time zone NOT NULL,
    received_at timestamp with time zone NOT NULL,
    clock_offset_s double precision NOT NULL,
    observed_est_at timestamp with time zone NOT NULL,
    quarantined boolean NOT NULL,
    version integer NOT NULL
);
CREATE SEQUENCE public.report_server_no_seq
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;
ALTER SEQUENCE public.report_server_no_seq OWNED BY public.report.server_no;
ALTER TABLE ONLY public.audit ALTER COLUMN id SET DEFAULT nextval('public.audit_id_seq'::regclass);
ALTER TABLE ONLY public.report ALTER COLUMN server_no SET DEFAULT nextval('public.report_server_no_seq'::regclass);
INSERT INTO public.alembic_version VALUES ('0001');
INSERT INTO public.device VALUES ('09a98e9b-c7fd-4fc5-973d-709104fd458e', '7e3c3082c008728a3339e52cab10b9ab3e21ce47bc7a19ff7cad6f65e4a1ea18', 'demo tablet', '2026-11-25 12:02:50.82559+00', NULL, '2026-11-25 12:02:50.867417+00', '0123456789abcdef');
INSERT INTO public.feed_clock VALUES (1, 0);
INSERT INTO public.report VALUES (1, '0192f0c1-7000-4000-8000-000000000001', '09a98e9b-c7fd-4fc5-973d-709104fd458e', '0192f0c1-0000-4000-8000-000000000001', 1, 'd7f46dafef1020842dc8bd9478c185e8c29b3880b17a537c93d43449799f8617', '{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000001", "seq": 1, "observed_at": "2026-11-25T06:41:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": null, "at_m": 51234.5, "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5}, "found": "good", "happened": [], "step": null, "weather": "dry", "sand_used": null, "flats_suspected": false, "train_not_seen": false, "told_signaller_at": null, "text": "", "train": null, "rail_state": null, "driver_name": null, "supersedes": null}}', 'larch-valley', 'down', 51234.5, 'good', NULL, NULL, NULL, '2026-11-25 06:41:00+00', '2026-11-25 07:40:00+00', '2026-11-25 12:02:50.839956+00', 15770.839956, '2026-11-25 11:03:50.839956+00', false, 1);
INSERT INTO public.report VALUES (2, '0192f0c1-7000-4000-8000-000000000002', '09a98e9b-c7fd-4fc5-973d-709104fd458e', '0192f0c1-0000-4000-8000-000000000001', 2, '8e82551a7b80f02e174db0dfb4ac69864cbbf14878a7339ac581859e594729b5', '{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000002", "seq": 2, "observed_at": "2026-11-25T06:42:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": "Kettle Bay", "at_m": 51234.5, "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5}, "found": "reportable", "happened": ["slide", "leaves"], "step": "2", "weather": "mist", "sand_used": true, "flats_suspected": true, "train_not_seen": false, "told_signaller_at": "2026-11-25T06:40:00.000Z", "text": "Slid from the bridge\non: 50 m \u2013 \u201call\u201d wheels \ud83e\uddca", "train": "three-step/8", "rail_state": "leaf film", "driver_name": "A. Driver", "supersedes": null}}', 'larch-valley', 'down', 51234.5, 'reportable', 'leaf film', NULL, NULL, '2026-11-25 06:42:00+00', '2026-11-25 07:40:00+00', '2026-11-25 12:02:50.839956+00', 15770.839956, '2026-11-25 11:04:50.839956+00', false, 1);
INSERT INTO public.report VALUES (3, '0192f0c1-7000-4000-8000-000000000003', '09a98e9b-c7fd-4fc5-973d-709104fd458e', '0192f0c1-0000-4000-8000-000000000001', 3, '234b2af0014e386455e15c9219b99ee2c46bc1f4615b6756b2f49ad7a1d9a942', '{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000003", "seq": 3, "observed_at": "2026-11-25T06:43:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": null, "at_m": null, "position": null, "found": "expected", "happened": [], "step": null, "weather": null, "sand_used": null, "flats_suspected": false, "train_not_seen": false, "told_signaller_at": null, "text": "", "train": null, "rail_state": null, "driver_name": null, "supersedes": "0192f0c1-7000-4000-8000-000000000001"}}', 'larch-valley', 'down', NULL, 'expected', NULL, NULL, '0192f0c1-7000-4000-8000-000000000001', '2026-11-25 06:43:00+00', '2026-11-25 07:40:00+00', '2026-11-25 12:02:50.867417+00', 15770.867417, '2026-11-25 11:05:50.867417+00', false, 1);
INSERT INTO public.report VALUES (4, '0192f0c1-7000-4000-8000-000000000004', '09a98e9b-c7fd-4fc5-973d-709104fd458e', '0192f0c1-0000-4000-8000-000000000001', 4, 'cbe9288a47d87da2f3e3a1468e5f055de64351b0d9eab6f9737438bb2d2bd218', '{"kind": "report", "id": "0192f0c1-7000-4000-8000-000000000004", "seq": 4, "observed_at": "2026-11-25T06:44:00.000Z", "body": {"route": "larch-valley", "pack": null, "direction": "down", "target": null, "place": null, "at_m": 51234.5, "position": {"lat": 54.1, "lon": -2.5, "accuracy_m": 12, "age_s": 1.5}, "found": "good", "happened": [], "step": null, "weather": null, "sand_used": null, "flats_suspected": false, "train_not_seen": false, "told_signaller_at": null, "text": "", "train": null, "rail_state": null, "driver_name": null, "supersedes": null}}', 'larch-valley', 'down', 51234.5, 'good', NULL, NULL, NULL, '2026-11-25 06:44:00+00', '2026-11-25 07:40:00+00', '2026-11-25 12:02:50.867417+00', 15770.867417, '2026-11-25 11:06:50.867417+00', false, 1);
SELECT pg_catalog.setval('public.audit_id_seq', 1, false);
SELECT pg_catalog.setval('public.report_server_no_seq', 4, true);
ALTER TABLE ONLY public.alembic_version
    ADD CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num);
ALTER TABLE ONLY public.audit
    ADD CONSTRAINT pk_audit PRIMARY KEY (id);
ALTER TABLE ONLY public.device
    ADD CONSTRAINT pk_device PRIMARY KEY (id);
ALTER TABLE ONLY public.feed_clock
    ADD CONSTRAINT pk_feed_clock PRIMARY KEY (id);
ALTER TABLE ONLY public.index_rev
    ADD CONSTRAINT pk_index_rev PRIMARY KEY (serial);
ALTER TABLE ONLY public.pack_file
    ADD CONSTRAINT pk_pack_file PRIMARY KEY (sha);
ALTER TABLE ONLY public.report
    ADD CONSTRAINT pk_report PRIMARY KEY (server_no);
ALTER TABLE ONLY public.device
    ADD CONSTRAINT uq_device_token_sha UNIQUE (token_sha);
ALTER TABLE ONLY public.report
    ADD CONSTRAINT uq_report_id UNIQUE (id);
CREATE INDEX ix_report_along_line ON public.report USING btree (line_key, at_m);
CREATE INDEX ix_report_newest ON public.report USING btree (received_at, id);
CREATE INDEX ix_report_sequence ON public.report USING btree (device_id, install_id, seq);
CREATE TRIGGER audit_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON public.audit FOR EACH STATEMENT EXECUTE FUNCTION public.refuse_audit_change();
ALTER TABLE ONLY public.report
    ADD CONSTRAINT fk_report_device_id FOREIGN KEY (device_id) REFERENCES public.device(id);
