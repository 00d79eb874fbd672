//! Events: what the shop's log says happened. State is their fold.

use serde::{Deserialize, Serialize};

use super::*;
use crate::Ms;
use crate::ids::*;

/// What happened, as decided. Only these change the state; ids and times in them are final.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Event {
    /// The shop's own document was set.
    ShopSet {
        /// The whole document from now on.
        shop: Shop,
    },
    /// A department was added or replaced.
    DepartmentSet {
        /// The whole document from now on.
        department: Department,
    },
    /// A person was added or replaced.
    PersonSet {
        /// The whole document from now on; `retired_at` and `erased_at` are the server's.
        person: Person,
    },
    /// A person was erased: their name and photos, and what they wrote, are gone from beside the log.
    PersonErased {
        /// Who was erased.
        person: PersonId,
        /// When, UTC ms.
        at: Ms,
    },
    /// A piece of equipment was added or replaced.
    EquipmentSet {
        /// The whole document from now on.
        equipment: Equipment,
    },
    /// A piece of equipment went out of service.
    EquipmentOut {
        /// Which one.
        equipment: EquipmentId,
        /// Since when. It ends as far ahead as dates may reach: `EquipmentBack` cuts it short.
        absence: Absence,
    },
    /// A piece of equipment is in service again.
    EquipmentBack {
        /// Which one.
        equipment: EquipmentId,
        /// Since when, UTC ms: an absence that was to last longer ends here.
        at: Ms,
    },
    /// A place was added or replaced.
    PlaceSet {
        /// The whole document from now on.
        place: Place,
    },
    /// A calendar was added or replaced.
    CalendarSet {
        /// The whole document from now on.
        calendar: Calendar,
    },
    /// A routing was added or replaced.
    RoutingSet {
        /// The whole document from now on, with its new version.
        routing: Routing,
    },

    /// A repair order was opened.
    OrderOpened {
        /// The document as it begins.
        order: Order,
    },
    /// Facts of an order changed.
    OrderEdited {
        /// Which order.
        order: OrderId,
        /// The new values; absent fields stay.
        change: OrderChange,
    },
    /// A stage that was reported by mistake no longer counts.
    StageTakenBack {
        /// Which order.
        order: OrderId,
        /// What was reported, and who took it back when and why.
        taken_back: StageTakenBack,
    },
    /// A vehicle reached a stage of its visit.
    StageReached {
        /// Which order.
        order: OrderId,
        /// The stage.
        stage: Stage,
        /// When, UTC ms: the best time of the act, not when it arrived here.
        at: Ms,
        /// Why, as typed, where somebody said so.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// A promise was made, moved or withdrawn.
    Promised {
        /// Which order.
        order: OrderId,
        /// When the vehicle is to be ready, UTC ms; none: there is no promise any more.
        due: Option<Ms>,
        /// Who promised; none in older entries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<PersonId>,
        /// When, UTC ms; none in older entries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<Ms>,
    },
    /// A vehicle stands somewhere else.
    Moved {
        /// Which order.
        order: OrderId,
        /// Where it stands now.
        to: PlaceId,
        /// What it stands on; none: as before.
        on: Option<StandsOn>,
        /// When it was moved, UTC ms.
        at: Ms,
        /// Who moved it.
        by: PersonId,
    },
    /// Something else is true of a vehicle now.
    ConditionChanged {
        /// Which order.
        order: OrderId,
        /// The new values; absent fields stay.
        change: ConditionChange,
    },
    /// High voltage was isolated or is live again, or the bake limits became known.
    EnergyChanged {
        /// Which order.
        order: OrderId,
        /// The whole new state.
        energy: Energy,
    },
    /// A department's lead for a vehicle changed.
    LeadSet {
        /// Which order.
        order: OrderId,
        /// Whose lead it is.
        department: DepartmentId,
        /// The new lead; none: nobody.
        person: Option<PersonId>,
    },
    /// A vehicle, or some of its cards, went on hold.
    HoldSet {
        /// Which order.
        order: OrderId,
        /// The hold as it begins.
        hold: Hold,
    },
    /// What is waited for is expected at another time.
    HoldMoved {
        /// Which order.
        order: OrderId,
        /// Which hold.
        hold: HoldId,
        /// The new expectation, UTC ms.
        due: Ms,
    },
    /// A hold ended.
    HoldEnded {
        /// Which order.
        order: OrderId,
        /// Which hold.
        hold: HoldId,
        /// When, UTC ms.
        at: Ms,
    },

    /// A card was laid out.
    CardAdded {
        /// The card as it begins.
        card: Card,
    },
    /// A card changed.
    CardEdited {
        /// Which card.
        card: CardId,
        /// The new values; absent fields stay.
        change: CardChange,
    },
    /// An ask without cards of its own was withdrawn.
    HandoffCalledOff {
        /// Which hand-off.
        handoff: HandoffId,
        /// Who withdrew it.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
        /// Why, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// A card is not to be done after all.
    CardCancelled {
        /// Which card.
        card: CardId,
        /// Who cancelled it; none in older entries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<PersonId>,
        /// When, UTC ms; none in older entries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<Ms>,
        /// Why, as typed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    /// A card waits for another one.
    Linked {
        /// The card that waits.
        card: CardId,
        /// What it waits for, and how long after it.
        after: Link,
    },
    /// A card no longer waits for another one.
    Unlinked {
        /// The card that waited.
        card: CardId,
        /// The card it waited for.
        after: CardId,
    },
    /// A planner put a card before the others of its department.
    PutFirst {
        /// Which card.
        card: CardId,
        /// Who, why and until when.
        put_first: PutFirst,
    },
    /// A card is back in its own place in the queue.
    PutBack {
        /// Which card.
        card: CardId,
    },

    /// A hand-off was asked for. Its cards come in events of their own.
    Asked {
        /// The hand-off as it begins.
        handoff: Handoff,
    },
    /// Somebody holds a card now, by taking it or by being given it.
    Taken {
        /// Which card.
        card: CardId,
        /// Who holds it, which need not be who acted.
        by: PersonId,
        /// Since when, UTC ms.
        at: Ms,
        /// The operation, so that Undo can name it.
        op: OpId,
    },
    /// A card went back to its department's queue.
    GivenBack {
        /// Which card.
        card: CardId,
        /// Who held it until then; none in older entries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<PersonId>,
    },
    /// Somebody helps with a card that another holds.
    HelpJoined {
        /// Which card.
        card: CardId,
        /// Who helps.
        by: PersonId,
    },
    /// Work on a card began: a span opens.
    Started {
        /// Which card.
        card: CardId,
        /// The id of the new span.
        span: SpanId,
        /// Who works.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
        /// The clocks disagreed, so the time is in doubt.
        uncertain: bool,
        /// The piece of equipment it is on; none: it needs none, or nobody could tell which.
        used: Option<EquipmentId>,
    },
    /// Work on a card stopped before it was done: this person's span ends.
    Paused {
        /// Which card.
        card: CardId,
        /// Who stopped.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
        /// Their reason, if they gave one.
        why: Option<PauseWhy>,
        /// The operation, so that Undo can name it.
        op: OpId,
    },
    /// A card is done: every span that runs on it ends.
    Finished {
        /// Which card.
        card: CardId,
        /// Who reported it done.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
        /// Positions of the checks that were done, counted from 0.
        checks: Vec<u32>,
        /// Until when it is wet or cures, UTC ms calendar time; none: the lags of the links decide.
        wet_until: Option<Ms>,
        /// The operation, so that Undo can name it.
        op: OpId,
    },
    /// A vehicle is open in some way from now on.
    Opened {
        /// Which order.
        order: OrderId,
        /// The way of being open.
        open: OpenId,
        /// The card that opened it.
        card: CardId,
        /// The piece that stays occupied until it is closed, if any.
        equipment: Option<EquipmentId>,
        /// When, UTC ms.
        at: Ms,
    },
    /// A vehicle is no longer open in that way.
    Closed {
        /// Which order.
        order: OrderId,
        /// The way of being open.
        open: OpenId,
        /// The card that closed it.
        card: CardId,
        /// When, UTC ms.
        at: Ms,
    },

    /// A note was written, or a finding reported.
    Noted {
        /// The new document.
        note: Note,
    },
    /// A photo was announced; the picture itself may come later.
    PhotoNoted {
        /// The new document.
        photo: Photo,
    },
    /// The picture of a photo has arrived.
    PhotoHere {
        /// SHA-256 of the picture in hexadecimal; every photo that names it has its picture now.
        sha256: String,
    },
    /// A person's marks on a photo were replaced.
    PhotoMarked {
        /// Which photo.
        photo: PhotoId,
        /// All marks of that person from now on.
        marked: Marked,
    },
    /// The times of a span were corrected by hand.
    SpanCorrected {
        /// Which card.
        card: CardId,
        /// Which span.
        span: SpanId,
        /// When it really began, UTC ms.
        from: Ms,
        /// When it really ended, UTC ms; none: it runs.
        to: Option<Ms>,
    },
    /// An act on a card was taken back.
    Undone {
        /// The whole card as it was before that act.
        card: Card,
        /// In which ways the vehicle was open before that act: replaces the order's list.
        order_open: Vec<OpenNow>,
        /// The card's life that was taken back; none in older entries.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<Life>,
    },
    /// A fact broke a rule and must be answered for.
    ExceptionRaised {
        /// The new document.
        exception: Exception,
    },
    /// Somebody answered an exception.
    ExceptionAnswered {
        /// Which exception.
        exception: ExceptionId,
        /// Who answered.
        by: PersonId,
        /// When, UTC ms.
        at: Ms,
        /// What they said, as typed.
        reason: String,
    },
    /// The server sent a reminder; it is not sent again for the same occasion.
    Reminded {
        /// What it reminds of.
        about: Reminder,
        /// The card it is about, if any.
        card: Option<CardId>,
        /// The order it is about, if any.
        order: Option<OrderId>,
    },
}

/// What became of an operation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// It was carried out: its events are in the entry.
    Applied,
    /// Nothing had to change; what was asked for is so already.
    Noop,
    /// It was refused; `code` says why.
    Refused,
}

/// One line of the shop log, as the chain hashes it. The operation is kept as it was sent, so that
/// even one that cannot be read has its verdict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Version of the entry's shape; 1 so far.
    pub v: u32,
    /// The server's clock when it was decided, UTC ms.
    pub at: Ms,
    /// The server's best time of the act itself, UTC ms; at most `at`.
    pub act_at: Ms,
    /// Who did it; the nil id is the server itself.
    pub by: PersonId,
    /// On which client: one person in one browser profile.
    pub client: ClientId,
    /// The client's counter.
    pub n: u64,
    /// The operation's own id.
    pub op_id: OpId,
    /// Digest of the operation as sent: the same `n` with another digest is a forked phone.
    pub digest: String,
    /// The operation as it was sent, free texts replaced by digests.
    pub op: serde_json::Value,
    /// What became of it.
    pub verdict: Verdict,
    /// Of a refusal: the stable word for the reason, as in `decide::Code`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// Who won, when: for the loser of a wish.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other: Option<Other>,
    /// What happened because of it, in order; empty unless applied.
    #[serde(default)]
    pub events: Vec<Event>,
}

/// The one who was first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Other {
    /// Who it was; none where that cannot be told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    /// When they did it, UTC ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Ms>,
}
