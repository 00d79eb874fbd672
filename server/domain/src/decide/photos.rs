//! Photos and what people show on them: facts.
//!
//! Rules: a picture may come before or after its record; marks are data beside the picture, which stays as
//! it was taken; a person's marks replace that person's only.

use super::*;

/// The far edge of a picture.
const EDGE: u16 = 10_000;

impl Work<'_> {
    pub(super) fn photo(&mut self, act: &Act) -> Decided {
        let Act::Photo { order, card, handoff, sha256, mime, bytes, taken_at } = act else { return Ok(()) };
        self.order(*order)?;
        let card = self.on_this_order(*order, *card)?;
        if sha256.len() != 64 || !sha256.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)) {
            return Err(Refusal::new(
                Code::Invalid,
                "A photo is named by its SHA-256 in 64 small hexadecimal digits.",
            ));
        }
        fitting("The kind of picture", mime, 100)?;
        if *bytes > PICTURE_BYTES_MAX {
            return Err(Refusal::new(
                Code::Invalid,
                "A photo is not larger than a gigabyte; take a new one.",
            ));
        }
        // Known bytes count as arrived at once: the picture may have come before its record.
        let here = self.state.has_picture(sha256);
        let photo = Photo {
            id: PhotoId(self.context.op.0),
            order: *order,
            card,
            handoff: *handoff,
            by: self.context.by,
            taken_at: (*taken_at).min(self.context.now).max(EARLIEST),
            sha256: sha256.clone(),
            mime: mime.clone(),
            bytes: *bytes,
            here,
            erased: false,
            marks: Vec::new(),
        };
        self.emit(Event::PhotoNoted { photo });
        Ok(())
    }

    pub(super) fn mark_photo(&mut self, id: PhotoId, marks: &[Mark]) -> Decided {
        let Some(photo) = self.state.photos.get(&id) else {
            return Err(Refusal::new(Code::Unknown, "There is no such photo in this shop."));
        };
        if marks.len() > MARKS_MAX {
            let message = format!("At most {MARKS_MAX} marks go on one photo.");
            return Err(Refusal::new(Code::Invalid, message));
        }
        marks.iter().try_for_each(fitting_mark)?;
        let by = self.context.by;
        let before = photo.marks.iter().find(|own| own.by == by).map_or(&[][..], |own| &own.marks);
        if before != marks {
            let marked = Marked { by, at: self.context.at, marks: marks.to_vec() };
            self.emit(Event::PhotoMarked { photo: id, marked });
        }
        Ok(())
    }
}

fn fitting_mark(mark: &Mark) -> Decided {
    if [mark.x1, mark.y1, mark.x2, mark.y2].iter().any(|place| *place > EDGE) {
        let message = format!("A mark stands inside the picture: 0 to {EDGE} across and down.");
        return Err(Refusal::new(Code::Invalid, message));
    }
    match (&mark.text, mark.kind) {
        (Some(text), _) => fitting("The text of a mark", text, TITLE_CHARS_MAX),
        (None, MarkKind::Text) => Err(Refusal::new(Code::Invalid, "The text of a mark is empty.")),
        (None, _) => Ok(()),
    }
}
