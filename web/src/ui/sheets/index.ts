export { Ask } from "./ask";
export { CancelCard, EquipmentState, HighVoltage, StartOn } from "./equipment";
export { Condition, FoundIt, Move, Note } from "./vehicle";
export { AddCard, Answer, Assign, Correct, HoldDue, HoldIt, Promised, PutFirst, Stages } from "./plan";
export { Why } from "./why";
