/* The job as this screen sees it: what the server said, and on top of it what was tapped since. Pure. */

const SINGLE = new Set(["count", "hold", "power", "prove", "exchange"]);

export function tapKey(item, index) {
  return `${item.id}#${index}`;
}

export class Job {
  constructor(bundle, local) {
    this.bundle = bundle;
    this.local = local;
    this.tapped = new Set(local.filter((event) => event.tap).map((event) => event.tap));
    this.items = bundle.stages.flatMap((stage) => stage.items);
    this.stageOf = new Map();
    for (const stage of bundle.stages) for (const item of stage.items) this.stageOf.set(item.id, stage);
  }

  isTapDone(item, index) {
    return item.taps[index].is_done || this.tapped.has(tapKey(item, index));
  }

  isDone(item) {
    return item.taps.every((_, index) => this.isTapDone(item, index));
  }

  isBegun(item) {
    return item.taps.some((_, index) => this.isTapDone(item, index));
  }

  /* The first step that is not done, the last one if all are. */
  current() {
    return this.items.find((item) => !this.isDone(item)) ?? this.items.at(-1) ?? null;
  }

  get isAllDone() {
    return this.items.every((item) => this.isDone(item));
  }

  openTaps(item) {
    return item.taps
      .map((tap, index) => ({ item, tap, index }))
      .filter(({ index }) => !this.isTapDone(item, index));
  }

  /* What one tap confirms from here: one single thing, or (in the view by stages) all plain steps up to the
     next single one. */
  nextTaps(item, byStep) {
    const stage = this.stageOf.get(item.id);
    const rest = stage.items.slice(stage.items.indexOf(item)).flatMap((each) => this.openTaps(each));
    if (!rest.length) return [];
    if (SINGLE.has(rest[0].tap.kind)) return rest.slice(0, 1);
    const end = rest.findIndex(({ item: each, tap }) => SINGLE.has(tap.kind) || (byStep && each !== rest[0].item));
    return end < 0 ? rest : rest.slice(0, end);
  }

  /* Everything that is not done before and with this step. */
  upTo(item) {
    return this.items.slice(0, this.items.indexOf(item) + 1).flatMap((each) => this.openTaps(each));
  }

  /* What lies out: as the server said, with what was opened, closed and lost on this screen since. */
  ledger() {
    const out = new Map(this.bundle.ledger.out.map((lot) => [`${lot.joint} ${lot.kind}`, { ...lot }]));
    const lost = this.bundle.ledger.lost.map((loss) => ({ ...loss }));
    for (const { body } of this.local) {
      const item = this.items.find((each) => each.joint === body.joint && each.pieces.length);
      if (!item) continue;
      for (const piece of item.pieces) {
        const key = `${body.joint} ${piece.kind}`;
        if (body.event === "opened") {
          const gone = this.#missing(body.joint, piece === item.pieces[0]);
          const count = body.taken_out ?? Math.max(0, piece.count - gone);
          out.set(key, { joint: body.joint, name: item.name, kind: piece.kind, text: piece.text, count, compartment: body.compartment ?? null });
        } else if (body.event === "closed") {
          out.delete(key);
        } else if (body.event === "lost" && piece === item.pieces[0]) {
          const lot = out.get(key);
          if (lot) lot.count = Math.max(0, lot.count - body.count);
          lost.push({ text: piece.text, count: body.count, joint: body.joint, searched: Boolean(body.searched) });
        }
      }
    }
    return { out: [...out.values()].filter((lot) => lot.count > 0), lost };
  }

  #missing(joint, isOwn) {
    if (!isOwn) return 0;
    return this.local
      .filter(({ body }) => body.event === "missing" && body.joint === joint)
      .reduce((sum, { body }) => sum + body.count, this.bundle.missing?.[joint] ?? 0);
  }

  /* How many pieces of a joint are short when it is to be closed: lost, missing or worn out since. */
  shortOf(item) {
    const [piece] = item.pieces;
    if (item.kind !== "close" || !piece) return 0;
    const lot = this.ledger().out.find((each) => each.joint === item.joint && each.kind === piece.kind);
    const others = this.bundle.ledger.out.filter((each) => each.joint === item.joint && each.kind !== piece.kind && !item.pieces.some((p) => p.kind === each.kind));
    const there = (lot?.count ?? 0) + others.reduce((sum, each) => sum + each.count, 0);
    return Math.max(0, piece.count - there);
  }

  /* Pieces of a joint that are worn out and lie there to be put back. */
  wornOf(item) {
    const [piece] = item.pieces;
    if (item.kind !== "close" || !piece) return 0;
    let worn = this.bundle.worn[item.joint] ?? 0;
    for (const { body } of this.local) {
      if (body.joint !== item.joint) continue;
      if (body.event === "stripped" && body.what !== "seat") worn += body.count;
      if (body.event === "scrapped") worn -= body.count;
    }
    return Math.max(0, Math.min(worn, piece.count));
  }

  /* "check" while a powered check is on; else what holds at this step. */
  power(item) {
    let state = this.bundle.isolation === "check" ? "check" : "";
    for (const each of this.items) {
      const isTapped = each.taps.some((tap, index) => tap.kind === "power" && this.tapped.has(tapKey(each, index)));
      if (isTapped) state = each.kind === "power_on" ? "check" : "";
    }
    return state || item?.live || "";
  }
}
