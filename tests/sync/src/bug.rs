//! Planted bugs: what the simulation must catch, or it proves nothing.
//!
//! Those of the phone are switches in the simulated phone. Those of the server stand in the simulated
//! environment (the disk under it, a front before it), so that the product carries no code for them; beside
//! each stands what it would be in the product.

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bug {
    // The server's, planted around it
    /// The front gives a repeated operation a new number: a writer that does not look at `(client, n)`.
    NoDedupe,
    /// The disk's append returns before it is durable: a writer that answers before the sync.
    AckBeforeSync,
    /// The same, with answers to pushes held back until it is: a writer that shows before the sync.
    ServeBeforeSync,
    /// The front says one epoch for ever: a restore that keeps the epoch. Beside
    /// `LastNIgnored`.
    NoEpoch,
    /// The front strips the chain's word from pulls: a server that does not compare histories.
    NoChainWord,
    /// The front answers a gap with success: a writer that skips numbers.
    GapIgnored,
    /// The front answers a fork with success: a writer that takes the number for the operation.
    ForkIgnored,
    /// The front strips `expect`: rules that ignore preconditions.
    PreconditionIgnored,
    /// The front makes a refusal of a fact's exception: rules that refuse facts.
    FactRefused,
    /// The front lets the caller be the maker of everything: a server that takes another person's client.
    OtherPersonsClient,
    /// The front answers a batch in which one operation is in the way with that error alone: what was kept
    /// of it is not told. (The product did.)
    BatchAllOrError,
    /// The pages of one copy may be of two histories: a server that does not ask of which head the page
    /// before was.
    PagesOfTwoHistories,

    // The phone's
    /// A frame fits by its number alone, whatever history it is of.
    FrameByNumber,
    /// Acknowledged operations are not kept.
    NoJournal,
    /// After a gap it numbers what is unsent from what the server expects.
    GapRenumbered,
    /// After a fork it throws away what is in the way.
    ForkDropped,
    /// A frame is applied wherever the phone stands.
    FrameAnywhere,
    /// Every page is committed as it comes.
    PartialPage,
    /// A patch's nulls are kept instead of taking fields away.
    WrongMerge,
    /// An operation leaves the outbox with its verdict, before the documents that show it.
    RemovedEarly,
    /// After a restore what was lost is offered again in a step of its own that a killed tab forgets.
    /// Beside `LastNIgnored`.
    OfferForgotten,
    /// After a restore only the client that is signed in now is looked at. Beside `LastNIgnored`.
    OfferOwnOnly,
    /// What a page says of the client's last number is looked at only after the history's name changed.
    LastNIgnored,
    /// Another person's forked client gets a new one that is bound to who is signed in.
    ForkForOthers,
    /// A client of its own that the server no longer knows stays unknown.
    UnknownClientStuck,
    /// What is renumbered stays in the journal under its old number too.
    JournalTwice,
    /// Every tab counts for itself.
    TabCounters,
    /// An operation is shown before the database has it.
    LateWrite,
    /// A refused operation is tried again before anything after it.
    QueueStuck,
}

impl Bug {
    /// What is planted beside it, because each covers for the other: a run counts only if it holds with
    /// that one alone.
    pub fn beside(self) -> Option<Bug> {
        matches!(self, Bug::NoEpoch | Bug::OfferForgotten | Bug::OfferOwnOnly).then_some(Bug::LastNIgnored)
    }

    pub const ALL: [Bug; 29] = [
        Bug::NoDedupe,
        Bug::AckBeforeSync,
        Bug::ServeBeforeSync,
        Bug::NoEpoch,
        Bug::NoChainWord,
        Bug::GapIgnored,
        Bug::ForkIgnored,
        Bug::PreconditionIgnored,
        Bug::FactRefused,
        Bug::OtherPersonsClient,
        Bug::BatchAllOrError,
        Bug::PagesOfTwoHistories,
        Bug::NoJournal,
        Bug::FrameByNumber,
        Bug::GapRenumbered,
        Bug::ForkDropped,
        Bug::FrameAnywhere,
        Bug::PartialPage,
        Bug::WrongMerge,
        Bug::RemovedEarly,
        Bug::OfferForgotten,
        Bug::OfferOwnOnly,
        Bug::LastNIgnored,
        Bug::ForkForOthers,
        Bug::UnknownClientStuck,
        Bug::JournalTwice,
        Bug::TabCounters,
        Bug::LateWrite,
        Bug::QueueStuck,
    ];
}
