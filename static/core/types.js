/**
 * Shapes that travel between modules: the route pack, the outbox, what the driver chose.
 * The pack's fields are explained in webapp/packs/FORMAT.md.
 *
 * @typedef {{key: string, name: string, speed_unit: "mph" | "kmh", distance_unit: "mi-ch" | "km",
 *   mps_per_unit: number, dial: number, mark_limit_m: number, datum: string}} RouteInfo
 * @typedef {{key: string, name: string, sign: 1 | -1}} Direction
 * @typedef {{key: string, name: string, kind: string, at_m: number}} Place
 * @typedef {{key: string, kind: "stop" | "buffers" | "reduction", place: string | null, name: string,
 *   direction: string, platform: string | null, mark_m: (number | null)[], limit_m: (number | null)[],
 *   limit_kind: string, platform_from_m: number | null, platform_to_m: number | null, to_speed: number,
 *   approach_speed: (number | null)[], reach_m: (number | null)[], landmarks: number[], listed: string[],
 *   words: string | null, note?: string | null}} Target
 * @typedef {{key: string, name: string, kind: string, at_m: number, directions: string[], words: string}} Landmark
 * @typedef {{key: string, name: string, from_m: number, to_m: number, directions: string[], state: string,
 *   season: {from: string, to: string} | null, reason: string, source: string}} Listed
 * @typedef {{key: string, name: string, plan: number, slick: number, basis: string, pickable: boolean}} RailState
 * @typedef {{key: string, type: string, type_name: string, formation: string, cars: number, length_m: number,
 *   isolated_cars: number, name: string, steps: string[], usual_step: number, slide_words: string,
 *   older: boolean}} Train
 * @typedef {{target: string, arrive: string | null, depart: string | null, note: string | null}} Call
 * @typedef {{key: string, name: string, direction: string, train_type: string, formation: string,
 *   starts: {place: string, depart: string | null}, calls: Call[]}} Trip
 * @typedef {{moving_glance: {on: boolean, approver: string | null}, rail_state_hours: number, pack_days?: number,
 *   walking_speed_mps: number, short_stop_m: number, isolated_limit_share: number,
 *   reduction_card_seconds: number, trip_allowance_words: string, mark_here?: boolean,
 *   cover_figure_m?: number}} PackSettings
 * @typedef {{key: string, direction: string, words: string, at_m: number, stop_before: string,
 *   stop_before_m: number, note: string | null}} SignalStop
 * @typedef {{key: string, direction: string, words: string, at_m: number, note: string | null}} BrakeTest
 * @typedef {{what: string, direction: string | null, from_m: number, to_m: number, how: string}} Inferred
 * @typedef {{leafy: boolean, looked_below: number, questions: {key: string, answers: string[]}[],
 *   outcomes: {state: string, why: string[]}[], rows: number[][], at: number[][][]}} Proposals
 * @typedef {{answers: Record<string, string>, at: number, state: string | null, why: string[],
 *   reason: string | null, weather?: {given: number, from: number | null}}} Asked what was answered and when, the
 *   state it proposes and why; reason: why a better one is taken for this trip; weather: the depot's weather
 *   proposes it, given when, and from when on it is so
 * @typedef {{at: string, state: string | null, why: string[]}} WeatherHour at: its end
 * @typedef {{line: string, given_at: string, ends_at: string, hours: WeatherHour[]}} LineWeather
 * @typedef {{rows: LineWeather[], at: number | null, etag: string | null, refused: boolean}} HeldWeather
 *   at: the depot's time of what is held; refused: what came last cannot be read
 * @typedef {{state: string, why: string[], given: number, from: number | null}} TripWeather
 * @typedef {{format: string, version: number, route: RouteInfo, directions: Direction[], places: Place[],
 *   targets: Target[], landmarks: Landmark[], gradients: [number, number, number][],
 *   limits: Record<string, [number, number, number][]>, listed: Listed[], states: RailState[], trains: Train[],
 *   trips: Trip[], geometry: [number, number, number][], settings: PackSettings,
 *   signals?: SignalStop[], brake_tests?: BrakeTest[], doors?: {target: string, cars: number, open_front: number}[],
 *   inferred?: Inferred[], proposals?: Proposals,
 *   assumptions: {what: string, value: string, basis: string}[], words: Record<string, string>,
 *   signed_words?: Record<string, Record<string, string>>,
 *   names_in?: Record<string, Record<string, string>>, spoken?: string}} Base spoken: the language of
 *   `names_in` that its words were put in on this tablet
 * @typedef {{format: string, version: number, base: string, knots: number[],
 *   columns: Record<string, any>}} Table
 * @typedef {{format: string, version: number, base: string, train: string, spacing_m: number,
 *   usual: number[][], advised: number[][][][], ceiling: number[][][][],
 *   cover_by_onset: [number, number][][][][]}} Pictures
 * @typedef {{kind: string, name: string, sha256: string, bytes: number, gz_bytes: number}} PackFile
 * @typedef {{format: string, version: number, route: string, name: string, files: PackFile[]}} Manifest
 * @typedef {{sha: string, base: Base, table: Table, files: PackFile[], fetchedAt: number}} Pack
 *
 * @typedef {{index: number, words: string, far: boolean}} BrakeMark
 * @typedef {{status: number, brake: number | null, mark: BrakeMark | null, step: number | null,
 *   run_in: number | null, ease_at: number | null, aim_short: number | null, flags: number,
 *   seconds: number | null, cover: number | null, slick: number | null,
 *   speeds: {words: string, speed: number}[]}} PlainAdvice
 * @typedef {PlainAdvice & {worse: PlainAdvice | null}} Advice
 *
 * @typedef {{route: string, pack: string, trip: string, formation: string | null, isolated: number | "more" | null,
 *   state: string | null, stateAt: number, trainChanged: boolean, answeredAt?: number,
 *   wsp?: "works" | "fault" | null, sand?: "full" | "low" | "unknown" | "isolated" | null, signs?: string[],
 *   off?: string | null, calls?: Record<string, import("./pattern.js").CallChange>, extra?: string[],
 *   brakeTest?: "good" | "weak" | null, since?: import("./since.js").Seen | null, asked?: Asked | null}} Prep null: not asked yet;
 *   off: why advice is switched off for this trip; since: what the last Brief of this line showed
 * @typedef {{why: "wsp" | "weak" | "pattern" | "unsure" | "platform" | "off" | "isolated" | "formation" | "train",
 *   reason?: string}} Bar why a stop has no advice although the pack may have some
 * @typedef {{lat: number, lon: number, accuracy: number, at: number, speed: number | null}} Fix
 * @typedef {"unknown" | "standing" | "moving"} Motion
 * @typedef {{kind: "call" | "reduction", target: Target, targetIndex: number, call: Call | null,
 *   season: number, advice: Advice, state: number, warned: TripWarning | null, lowered?: string[],
 *   bar?: Bar, own?: Advice}} Row lowered: ids of restrictions that lowered a speed shown here; own: what the pack
 *   says of a stop that is barred, never shown: it only tells which is worse
 * @typedef {{base: Base, pack: Pack, trip: Trip, direction: Direction, trainIndex: number | null,
 *   train: Train | null, state: number, stateName: string, w9: string | null, changed?: boolean,
 *   signs?: string[], proposed?: string | null, off?: string | null, bar?: Bar | null, withdrawn: boolean, rows: Row[],
 *   calls: Row[], warnings: TripWarning[], restrictions: TripRestriction[]}} TripView proposed: state that was proposed, where the
 *   driver took a better one; bar: why
 *   no stop of the trip has advice
 *
 * @typedef {{id: string, rev?: number, status?: string, line?: string, direction?: string, datum?: string,
 *   from_m?: number, to_m?: number, state?: string, reason?: string, from_at?: string,
 *   review_at?: string | null, told_by?: string, reference?: string, heldBefore?: boolean}} Warning heldBefore:
 *   from before the depot was put back to an older state, which does not name it
 * @typedef {{warning: Warning, begun: boolean, rank: number, name: string | null, certain: boolean,
 *   placed: boolean, from: number | null, when: string, review: string | null}} TripWarning
 *   rank in the chain, the last where it is not certain; review: asked for and passed
 * @typedef {{rows: Warning[], at: number | null, kept: number | null, broken: boolean}} HeldWarnings
 *   at: the depot's time of the last answer, null before the first one
 *
 * @typedef {{id: string, rev: number, line: string, direction: string, datum: string, from_m: number, to_m: number,
 *   speed: number, unit: "mph" | "kmh", speed_mps: number, from_at: string, until_at: string | null,
 *   reference: string}} Restriction
 * @typedef {{restriction: Restriction, begun: boolean, speed: number, near: number, far: number, placed: boolean,
 *   from: string, until: string | null, over: boolean}} TripRestriction near and far: its ends in the
 *   direction of travel, widened [m]; over: its end has passed and the depot has not ended it
 * @typedef {{rows: Restriction[], at: number | null, etag: string | null, refused: boolean,
 *   broken: boolean}} HeldRestrictions at: the depot's time of what is held; refused: what came last cannot be read
 *
 * @typedef {"good" | "expected" | "reportable"} Found
 * @typedef {import("./report.js").Draft} Draft
 * @typedef {{kind: string, trains: number | null, at: string}} DepotAnswer to a report of this tablet
 * @typedef {Record<string, unknown>} ReportBody
 * @typedef {{kind: string, id: string, seq?: number, observed_at?: string, body: ReportBody}} Item what
 *   travels; only a "report" has a number and a time of its own
 * @typedef {{id: string, seq: number | null, savedAt: number, item: Item, tries: number,
 *   firstTryAt: number | null, parked: {code: string, reason: string} | null,
 *   offered?: {serverNo: number | null, receivedAt: string}}} OutboxRow offered: the depot had it
 *   once, and is asked to take it again
 * @typedef {{id: string, seq: null, savedAt: number, item: null, tries: number, firstTryAt: null,
 *   parked: {code: string, reason: string}}} LostRow one that the tablet's storage does not give back
 * @typedef {{id: string, seq: number | null, savedAt: number, item: Item, serverNo: number | null,
 *   receivedAt: string, putAside?: {at: number, code: string, reason: string}}} Receipt put aside by
 *   the driver: the depot does not have it
 * @typedef {{status: number, type: string, text: string, retryAfter: string | null, ours: boolean}} Answer
 *   ours: it bears the depot's own mark; a portal's does not
 * @typedef {"unknown" | "online" | "offline" | "portal" | "slow" | "enrol" | "stranger" | "fault" | "storage"} Contact
 */

export {};
