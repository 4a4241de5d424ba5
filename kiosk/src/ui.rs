//! The one place where the kiosk meets the generated types of its screens: pictures in, touches out. Rows of a model are
//! replaced one by one, and only where they differ; a model is made anew only when its number of rows changes.

#![allow(missing_docs, unreachable_pub, reason = "the screens' types are generated and documented in ui/*.slint")]

use std::rc::Rc;

use bellmare_barn::input::Mark;
use slint::{ComponentHandle, Model, ModelRc, SharedString, VecModel};

use crate::aisle::frame::{CLOSE, Rect};
use crate::aisle::stalls::{Cell, Vessel as Water};
use crate::aisle::{Scene, Tone as SceneTone, heat, strip};
use crate::card::Card as CardScene;
use crate::card::frame::checked_height;
use crate::check::{Check as CheckScene, Key};
use crate::pages::keypad::Keypad;
use crate::pages::layout::{Laid, Placed};
use crate::pages::plots::{Label, Plots};
use crate::pages::{Item, Look as ItemLook};
use crate::words;

slint::include_modules!();

/// The models behind the screens' rows.
pub struct Rows {
    ticks: Rc<VecModel<TickRow>>,
    lessons: Rc<VecModel<LessonRow>>,
    strips: Rc<VecModel<StripRow>>,
    stalls: Rc<VecModel<StallRow>>,
    jobs: Rc<VecModel<JobRow>>,
    tack: Rc<VecModel<TackRow>>,
    card_ways: Rc<VecModel<ItemRow>>,
    items: Rc<VecModel<ItemRow>>,
    columns: Rc<VecModel<ColumnRow>>,
    levels: Rc<VecModel<LevelRow>>,
    labels: Rc<VecModel<LabelRow>>,
    axes: Rc<VecModel<Box>>,
    keys: Rc<VecModel<KeyRow>>,
    ways: Rc<VecModel<KeyRow>>,
}

impl Rows {
    /// Puts empty models in place of the screens' sample rows.
    pub fn attach(app: &App) -> Self {
        let rows = Self {
            ticks: Rc::default(),
            lessons: Rc::default(),
            strips: Rc::default(),
            stalls: Rc::default(),
            jobs: Rc::default(),
            tack: Rc::default(),
            card_ways: Rc::default(),
            items: Rc::default(),
            columns: Rc::default(),
            levels: Rc::default(),
            labels: Rc::default(),
            axes: Rc::default(),
            keys: Rc::default(),
            ways: Rc::default(),
        };
        let aisle = app.global::<Aisle>();
        aisle.set_ticks(ModelRc::from(rows.ticks.clone()));
        aisle.set_lessons(ModelRc::from(rows.lessons.clone()));
        aisle.set_strips(ModelRc::from(rows.strips.clone()));
        aisle.set_stalls(ModelRc::from(rows.stalls.clone()));
        aisle.set_jobs(ModelRc::from(rows.jobs.clone()));
        app.global::<Card>().set_tack(ModelRc::from(rows.tack.clone()));
        app.global::<Check>().set_keys(ModelRc::from(rows.keys.clone()));
        app.global::<Check>().set_ways(ModelRc::from(rows.ways.clone()));
        app.global::<Card>().set_ways(ModelRc::from(rows.card_ways.clone()));
        app.global::<Sheet>().set_items(ModelRc::from(rows.items.clone()));
        let plot = app.global::<Plot>();
        plot.set_columns(ModelRc::from(rows.columns.clone()));
        plot.set_levels(ModelRc::from(rows.levels.clone()));
        plot.set_labels(ModelRc::from(rows.labels.clone()));
        plot.set_axes(ModelRc::from(rows.axes.clone()));
        rows
    }

    /// Shows the aisle picture.
    pub fn show_aisle(&self, app: &App, scene: &Scene) {
        let aisle = app.global::<Aisle>();
        let frame = aisle_frame(scene);
        if aisle.get_frame() != frame {
            aisle.set_frame(frame);
        }
        let said = aisle_words(scene);
        if aisle.get_words() != said {
            aisle.set_words(said);
        }
        let ticks = scene.timeline.ticks.iter().map(|tick| TickRow { x: tick.x, label: shared(&tick.label) });
        replace(&self.ticks, ticks.collect());
        let lessons = scene.timeline.lessons.iter().map(|lesson| LessonRow {
            x: lesson.rect.x,
            y: lesson.rect.y,
            w: lesson.rect.w,
            h: lesson.rect.h,
            text: shared(&lesson.text),
            ready: lesson.ready,
            tone: tone(lesson.tone),
            label: shared(&lesson.label),
        });
        replace(&self.lessons, lessons.collect());
        replace(&self.strips, strips(scene));
        replace(&self.stalls, scene.cells.iter().map(stall).collect());
        let jobs = scene.work.jobs.iter().zip(&scene.work.rects).map(|(job, rect)| JobRow {
            x: rect.x,
            y: rect.y,
            w: rect.w,
            h: rect.h,
            touchable: scene.work.touchable,
            stall: shared(&job.stall),
            tack: job.tack,
            name: shared(&job.name),
            job: shared(&job.job),
            who: shared(&job.who),
            by: shared(&job.by),
            word: shared(&job.word),
            tone: tone(job.tone),
            label: shared(format!("{}, {} {} {} {}", job.name, job.job, job.who, job.by, job.word)),
        });
        replace(&self.jobs, jobs.collect());
    }

    /// Shows a horse's card.
    pub fn show_card(&self, app: &App, card: &CardScene) {
        let adapter = app.global::<Card>();
        let frame = &card.frame;
        adapter.set_frame(CardFrame {
            base: frame.base,
            title: frame.title,
            notes_px: frame.notes_px,
            ride_px: frame.ride_px,
            ride_w: frame.ride_w,
            then_px: frame.then_px,
            tack_h: frame.tack_h,
            tack_top: frame.tack_top,
            gap: frame.gap,
            head: place(frame.head),
            tack: place(frame.tack),
            stirrups: place(frame.stirrups),
            notes: place(frame.notes),
            tall: frame.tall,
        });
        adapter.set_words(card_words(card));
        let tack = card.tack.iter().map(|tack| TackRow {
            turn: shared(&tack.turn),
            name: shared(&tack.name),
            px: tack.px,
            place: shared(&tack.place),
        });
        replace(&self.tack, tack.collect());
        replace(&self.card_ways, card.ways.iter().map(item).collect());
    }

    /// Shows a page on which a horse is checked.
    pub fn show_check(&self, app: &App, check: &CheckScene) {
        let adapter = app.global::<Check>();
        adapter.set_frame(CheckFrame {
            base: check.base,
            title: check.title_px,
            value_px: check.value_px,
            head: place(check.head),
            middle: place(check.middle),
        });
        adapter.set_words(CheckWords {
            title: shared(&check.title),
            below: shared(&check.below),
            value: shared(&check.value),
            known: check.known,
        });
        replace(&self.keys, check.keys.iter().map(key).collect());
        let [back, out, next] = &check.ways;
        let way = |way: &Option<Key>| way.as_ref().map(key).unwrap_or_default();
        let next = KeyRow { chosen: next.is_some(), ..way(next) };
        replace(&self.ways, vec![way(back), way(out), next]);
    }

    /// Shows a page of items.
    pub fn show_sheet(&self, app: &App, laid: &Laid) {
        app.global::<Sheet>().set_words(SheetWords {
            title: shared(&laid.title),
            below: shared(&laid.below),
            tone: tone(laid.tone),
            base: laid.base,
            below_px: laid.below_px,
            title_px: laid.title_px,
            head: place(laid.head),
        });
        replace(&self.items, laid.placed.iter().map(item).collect());
    }

    /// Shows digits to press.
    pub fn show_keypad(&self, app: &App, keys: &Keypad) {
        let adapter = app.global::<Check>();
        adapter.set_frame(CheckFrame {
            base: keys.base,
            title: keys.title_px,
            value_px: keys.value_px,
            head: place(keys.head),
            middle: place(keys.middle),
        });
        adapter.set_words(CheckWords {
            title: shared(&keys.title),
            below: shared(&keys.below),
            value: shared(&keys.value),
            known: true,
        });
        let rows = keys.keys.iter().map(|(rect, item)| KeyRow {
            x: rect.x,
            y: rect.y,
            w: rect.w,
            h: rect.h,
            text: shared(&item.text),
            label: shared(item.label()),
            chosen: item.strong,
            breakable: has_words(&item.text),
        });
        replace(&self.keys, rows.collect());
        replace(&self.ways, Vec::new());
    }

    /// Shows plots.
    pub fn show_plots(&self, app: &App, plots: &Plots) {
        app.global::<Plot>().set_words(PlotWords {
            title: shared(&plots.title),
            below: shared(&plots.below),
            label: shared(&plots.said),
            base: plots.base,
            title_px: plots.title_px,
            small: plots.small,
            head: place(plots.head),
            back: place(plots.back.0),
            back_word: shared(&plots.back.1.text),
        });
        let columns = plots.columns.iter().map(|column| ColumnRow {
            x: column.rect.x,
            y: column.rect.y,
            w: column.rect.w,
            h: column.rect.h,
            tone: tone(column.tone),
            pale: column.pale,
        });
        replace(&self.columns, columns.collect());
        let levels = plots.levels.iter().map(|level| LevelRow {
            x: level.rect.x,
            y: level.rect.y,
            w: level.rect.w,
            word: place(level.at),
            text: shared(&level.word),
            tone: tone(level.tone),
        });
        replace(&self.levels, levels.collect());
        let label = |label: &Label| LabelRow {
            x: label.rect.x,
            y: label.rect.y,
            w: label.rect.w,
            h: label.rect.h,
            text: shared(&label.text),
            middle: label.middle,
        };
        replace(&self.labels, plots.labels.iter().map(label).collect());
        replace(&self.axes, plots.axes.iter().map(|axis| place(*axis)).collect());
    }
}

/// An item as the screens know it.
fn item(placed: &Placed) -> ItemRow {
    let Placed { item, rect, px, aside } = placed;
    let Item { look, text, below, tone: kind, strong, does, aside: second, .. } = item;
    let second = second.as_ref().map(|(word, _)| word.as_str()).unwrap_or_default();
    ItemRow {
        look: match look {
            ItemLook::Line => Look::Line,
            ItemLook::Heading => Look::Heading,
            ItemLook::Target => Look::Target,
            ItemLook::Button => Look::Button,
        },
        x: rect.x,
        y: rect.y,
        w: rect.w,
        h: rect.h,
        text: shared(text),
        px: *px,
        below: shared(below),
        tone: tone(*kind),
        strong: *strong,
        touchable: does.is_some(),
        turn: shared(&item.turn),
        label: shared(item.label()),
        aside: shared(second),
        aside_label: shared(format!("{text}: {second}")),
        aside_x: aside.x,
        aside_w: aside.w,
        breakable: has_words(text),
        breakable_below: has_words(below),
    }
}

/// A tone as the screens know it.
pub fn tone(tone: SceneTone) -> Tone {
    match tone {
        SceneTone::Quiet => Tone::Quiet,
        SceneTone::Ready => Tone::Ready,
        SceneTone::Unknown => Tone::Unknown,
        SceneTone::Mind => Tone::Mind,
        SceneTone::Now => Tone::Now,
        SceneTone::Low => Tone::Low,
        SceneTone::Battery => Tone::Battery,
        SceneTone::Hot => Tone::Hot,
        SceneTone::Care => Tone::Care,
        SceneTone::Vet => Tone::Vet,
        SceneTone::Cold => Tone::Cold,
        SceneTone::Late => Tone::Late,
        SceneTone::Critical => Tone::Critical,
        SceneTone::Fault => Tone::Fault,
        SceneTone::Alarm => Tone::Alarm,
        SceneTone::Stop => Tone::Stop,
    }
}

fn replace<T: Clone + PartialEq + 'static>(model: &VecModel<T>, rows: Vec<T>) {
    if model.row_count() != rows.len() {
        model.set_vec(rows);
        return;
    }
    for (at, row) in rows.into_iter().enumerate() {
        if model.row_data(at).is_none_or(|old| old != row) {
            model.set_row_data(at, row);
        }
    }
}

/// True where a text can be broken in two.
fn has_words(text: &str) -> bool {
    text.contains(' ')
}

fn shared(text: impl AsRef<str>) -> SharedString {
    SharedString::from(text.as_ref())
}

fn key(key: &Key) -> KeyRow {
    KeyRow {
        x: key.rect.x,
        y: key.rect.y,
        w: key.rect.w,
        h: key.rect.h,
        text: shared(&key.text),
        label: shared(&key.label),
        chosen: key.chosen,
        breakable: has_words(&key.text),
    }
}

fn place(rect: Rect) -> Box {
    Box { x: rect.x, y: rect.y, w: rect.w, h: rect.h }
}

fn link(mark: Mark) -> Link {
    match mark {
        Mark::Open => Link::Open,
        Mark::Begun => Link::Begun,
        Mark::Done => Link::Done,
    }
}

fn vessel(water: Water) -> (Vessel, f32) {
    match water {
        Water::None => (Vessel::None, 0.0),
        Water::Level(level) => (Vessel::Level, level),
        Water::Unknown => (Vessel::Unknown, 0.0),
    }
}

fn aisle_frame(scene: &Scene) -> AisleFrame {
    let frame = &scene.frame;
    let columns = &scene.work.columns;
    AisleFrame {
        far: frame.types.far,
        near: frame.types.near,
        small: frame.types.small,
        quiet: frame.types.quiet,
        short: frame.short,
        low: frame.low,
        clock: place(frame.clock),
        clock_w: frame.clock_w,
        timeline: place(frame.timeline),
        heat: place(frame.heat),
        work: place(frame.work),
        shift: place(frame.shift),
        round: place(frame.round),
        head_touched: frame.head_touched,
        footer: place(frame.footer),
        job_h: frame.job_h,
        next_y: scene.work.rects.first().map_or(0.0, |rect| rect.y - frame.work.y),
        stacked: columns.stacked,
        late_px: columns.word_px,
        next_shown: columns.titled,
        name_x: columns.name,
        job_x: columns.job,
        who_x: columns.who,
        by_x: columns.by,
        heat_px: heat::word_px(&scene.heat, frame.heat_lines, &frame.types),
        shift_px: scene.work.shift_px,
        work_shown: frame.work.h > 0.0,
    }
}

fn aisle_words(scene: &Scene) -> AisleWords {
    let [heat_word, heat_more, heat_figures] = scene.heat.lines(scene.frame.heat_lines);
    AisleWords {
        clock: shared(&scene.clock),
        clock_known: scene.clock_known,
        heat_tone: tone(scene.heat.tone),
        heat_word: shared(heat_word),
        heat_more: shared(heat_more),
        heat_figures: shared(heat_figures),
        heat_label: shared(format!("{}, {}", scene.heat.words(), scene.heat.figures())),
        axis_y: scene.timeline.axis_y,
        now_x: scene.timeline.now_x.unwrap_or(0.0),
        now_known: scene.timeline.now_x.is_some(),
        no_lessons: shared(&scene.timeline.empty),
        next: shared(words::next()),
        count: shared(&scene.work.count),
        no_jobs: shared(&scene.work.empty),
        shift_title: shared(&scene.work.shift_title),
        shift_names: shared(&scene.work.shift_names),
        sign_in: shared(words::sign_in_out()),
        language: shared(&scene.language),
        round: shared(&scene.round.0),
        round_below: shared(&scene.round.1),
        round_tone: tone(scene.round.2),
        page: shared(&scene.page),
        page_index: scene.page_index as i32,
        pages: scene.pages as i32,
    }
}

fn strips(scene: &Scene) -> Vec<StripRow> {
    let types = &scene.frame.types;
    let row = |notice: &strip::Notice| {
        let largest = types.far.min(notice.rect.h * 0.86);
        let room = strip::text_room(notice, notice.below, types, &scene.sizes);
        let mut lines = strip::broken(&notice.text, room, largest);
        let high = notice.rect.h >= types.far * CLOSE * 2.0;
        // Where there is no height for so many lines it is made smaller.
        let most = if high { 2 } else { 1 };
        let mut font_px = largest;
        while lines.len() > most && font_px > types.small {
            font_px *= 0.97;
            lines = strip::broken(&notice.text, room, font_px);
        }
        let mut lines = lines.into_iter();
        let first = lines.next().unwrap_or_default();
        let second = lines.collect::<Vec<_>>().join(" ");
        StripRow {
            x: notice.rect.x,
            y: notice.rect.y,
            w: notice.rect.w,
            h: notice.rect.h,
            tone: tone(notice.tone),
            text: shared(&first),
            second: shared(&second),
            text_px: font_px,
            side_w: strip::side_width(notice, types),
            below: notice.below,
            age: shared(&notice.age),
            state: shared(&notice.state),
            count: shared(&notice.count),
            touchable: notice.alarm.is_some(),
            alarm: shared(notice.alarm.map(|alarm| alarm.to_string()).unwrap_or_default()),
            label: shared(&notice.label),
        }
    };
    scene.strips.iter().map(row).collect()
}

fn stall(cell: &Cell) -> StallRow {
    let (vessel, level) = vessel(cell.vessel);
    let links = cell.links.unwrap_or([Mark::Open; 3]);
    StallRow {
        id: shared(&cell.id),
        x: cell.rect.x,
        y: cell.rect.y,
        w: cell.rect.w,
        h: cell.rect.h,
        loud: cell.loud,
        upper: cell.upper,
        name: shared(&cell.name),
        name_px: cell.name_px,
        word: shared(&cell.word),
        detail: shared(&cell.detail),
        mount: shared(&cell.mount),
        tone: tone(cell.tone),
        vessel,
        level,
        vessel_tone: tone(cell.vessel_tone),
        vessel_word: shared(&cell.vessel_word),
        vessel_since: shared(&cell.vessel_since),
        rides: cell.links.is_some(),
        brush: link(links[0]),
        tack: link(links[1]),
        lead_out: link(links[2]),
        ready: cell.ready,
        label: shared(&cell.label),
    }
}

fn card_words(card: &CardScene) -> CardWords {
    let (vessel, level) = vessel(card.cell.vessel);
    let links = card.cell.links.unwrap_or([Mark::Open; 3]);
    let (left, right) = card.stirrups.unwrap_or((0, 0));
    CardWords {
        name: shared(&card.name),
        stall: shared(&card.stall),
        ride: shared(&card.ride),
        then: shared(&card.then),
        reason: card.reason,
        pace: tone(card.pace),
        pace_word: shared(&card.pace_word),
        put_on: shared(match (card.cell.links, card.back) {
            (None, _) => String::new(),
            (Some(_), false) => words::put_on(),
            (Some(_), true) => words::take_off(),
        }),
        no_tack: shared(if card.tack.is_empty() && card.cell.links.is_some() {
            words::no_tack()
        } else {
            String::new()
        }),
        stirrups_title: shared(words::stirrups()),
        has_stirrups: card.stirrups.is_some(),
        left: i32::from(left),
        right: i32::from(right),
        left_word: shared(words::left()),
        right_word: shared(words::right()),
        verdict: shared(words::same_or_not(left, right)),
        notes_title: shared(if card.notes.is_empty() { String::new() } else { words::handling() }),
        notes: shared(&card.notes),
        grade: shared(&card.grade),
        water: shared(&card.water),
        vessel,
        level,
        vessel_tone: tone(card.cell.vessel_tone),
        has_links: card.cell.links.is_some(),
        brush: link(links[0]),
        tack: link(links[1]),
        lead_out: link(links[2]),
        state: shared(&card.state),
        checked: shared(&card.checked),
        checked_tone: tone(card.checked_tone),
        checked_h: checked_height(card, &card.frame, card.frame.notes_px),
    }
}
