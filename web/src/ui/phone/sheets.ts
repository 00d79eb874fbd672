export { Ask } from "./sheet-ask";
export { CancelCard, EquipmentState, HighVoltage, StartOn } from "./sheet-open";
export { Condition, FoundIt, Move, Note } from "./sheet-vehicle";
export { AddCard, Answer, Assign, Correct, HoldDue, HoldIt, Promised, PutFirst, Stages } from "./sheet-plan";
export { Why } from "./why";
