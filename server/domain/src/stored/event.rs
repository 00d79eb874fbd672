//! Events: what the shop's log says happened. State is their fold.

use serde::{Deserialize, Serialize};

use super::*;
use crate::Ms;
use crate::ids::*;

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "snake_case")]
pub enum Event {
    ShopSet {
        shop: Shop,
    },
    DepartmentSet {
        department: Department,
    },
    PersonSet {
        person: Person,
    },
    /// What they wrote, their name and their photos are gone: their texts are no longer beside the log.
    PersonErased {
        person: PersonId,
        at: Ms,
    },
    EquipmentSet {
        equipment: Equipment,
    },
    EquipmentOut {
        equipment: EquipmentId,
        absence: Absence,
    },
    EquipmentBack {
        equipment: EquipmentId,
        at: Ms,
    },
    PlaceSet {
        place: Place,
    },
    CalendarSet {
        calendar: Calendar,
    },
    RoutingSet {
        routing: Routing,
    },

    OrderOpened {
        order: Order,
    },
    OrderEdited {
        order: OrderId,
        change: OrderChange,
    },
    StageTakenBack {
        order: OrderId,
        taken_back: StageTakenBack,
    },
    StageReached {
        order: OrderId,
        stage: Stage,
        at: Ms,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    Promised {
        order: OrderId,
        due: Option<Ms>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<PersonId>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<Ms>,
    },
    Moved {
        order: OrderId,
        to: PlaceId,
        on: Option<StandsOn>,
        at: Ms,
        by: PersonId,
    },
    ConditionChanged {
        order: OrderId,
        change: ConditionChange,
    },
    EnergyChanged {
        order: OrderId,
        energy: Energy,
    },
    LeadSet {
        order: OrderId,
        department: DepartmentId,
        person: Option<PersonId>,
    },
    HoldSet {
        order: OrderId,
        hold: Hold,
    },
    HoldMoved {
        order: OrderId,
        hold: HoldId,
        due: Ms,
    },
    HoldEnded {
        order: OrderId,
        hold: HoldId,
        at: Ms,
    },

    CardAdded {
        card: Card,
    },
    CardEdited {
        card: CardId,
        change: CardChange,
    },
    HandoffCalledOff {
        handoff: HandoffId,
        by: PersonId,
        at: Ms,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    CardCancelled {
        card: CardId,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        by: Option<PersonId>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at: Option<Ms>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reason: Option<String>,
    },
    Linked {
        card: CardId,
        after: Link,
    },
    Unlinked {
        card: CardId,
        after: CardId,
    },
    PutFirst {
        card: CardId,
        put_first: PutFirst,
    },
    PutBack {
        card: CardId,
    },

    Asked {
        handoff: Handoff,
    },
    Taken {
        card: CardId,
        by: PersonId,
        at: Ms,
        op: OpId,
    },
    GivenBack {
        card: CardId,
        /// Who had held it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<PersonId>,
    },
    HelpJoined {
        card: CardId,
        by: PersonId,
    },
    Started {
        card: CardId,
        span: SpanId,
        by: PersonId,
        at: Ms,
        uncertain: bool,
        used: Option<EquipmentId>,
    },
    Paused {
        card: CardId,
        by: PersonId,
        at: Ms,
        why: Option<PauseWhy>,
        op: OpId,
    },
    Finished {
        card: CardId,
        by: PersonId,
        at: Ms,
        checks: Vec<u32>,
        wet_until: Option<Ms>,
        op: OpId,
    },
    Opened {
        order: OrderId,
        open: OpenId,
        card: CardId,
        equipment: Option<EquipmentId>,
        at: Ms,
    },
    Closed {
        order: OrderId,
        open: OpenId,
        card: CardId,
        at: Ms,
    },

    Noted {
        note: Note,
    },
    PhotoNoted {
        photo: Photo,
    },
    PhotoHere {
        sha256: String,
    },
    PhotoMarked {
        photo: PhotoId,
        marked: Marked,
    },
    SpanCorrected {
        card: CardId,
        span: SpanId,
        from: Ms,
        to: Option<Ms>,
    },
    /// The whole card as it was before the act that was taken back.
    Undone {
        card: Card,
        order_open: Vec<OpenNow>,
        /// The life that was taken back.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        was: Option<Life>,
    },
    ExceptionRaised {
        exception: Exception,
    },
    ExceptionAnswered {
        exception: ExceptionId,
        by: PersonId,
        at: Ms,
        reason: String,
    },
    Reminded {
        about: Reminder,
        card: Option<CardId>,
        order: Option<OrderId>,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    Applied,
    /// Nothing had to change.
    Noop,
    Refused,
}

/// One line of the shop log, as the chain hashes it. The operation is kept as it was sent, so that
/// even one that cannot be read has its verdict.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    pub v: u32,
    /// The server's clock when it was decided.
    pub at: Ms,
    /// The server's best time of the act itself.
    pub act_at: Ms,
    pub by: PersonId,
    pub client: ClientId,
    pub n: u64,
    pub op_id: OpId,
    /// Digest of the operation as sent: the same `n` with another digest is a forked phone.
    pub digest: String,
    pub op: serde_json::Value,
    pub verdict: Verdict,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// Who won, when: for the loser of a wish.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub other: Option<Other>,
    #[serde(default)]
    pub events: Vec<Event>,
}

/// The one who was first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Other {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<PersonId>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<Ms>,
}
