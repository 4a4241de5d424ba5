//! Server-sent events, as much of them as the hub speaks (WHATWG HTML, 9.2.6): lines in, events out. Pure.

/// What a line brought.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Heard {
    /// A whole event.
    Event {
        /// Its kind.
        kind: String,
        /// Its data.
        data: String,
    },
    /// A sign of life, or a part of an event.
    Alive,
}

/// An event that grows line by line.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Parser {
    kind: String,
    data: String,
}

impl Parser {
    /// Takes a line without its end.
    pub fn line(&mut self, line: &str) -> Heard {
        if line.is_empty() {
            let whole = std::mem::take(self);
            if whole.data.is_empty() {
                return Heard::Alive;
            }
            return Heard::Event { kind: whole.kind, data: whole.data };
        }
        let (field, value) = line.split_once(':').unwrap_or((line, ""));
        let value = value.strip_prefix(' ').unwrap_or(value);
        match field {
            "event" => self.kind = value.to_owned(),
            "data" => {
                if !self.data.is_empty() {
                    self.data.push('\n');
                }
                self.data.push_str(value);
            }
            // A comment has no name before its colon; other fields mean nothing here.
            _ => {}
        }
        Heard::Alive
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn events(lines: &[&str]) -> Vec<Heard> {
        let mut parser = Parser::default();
        lines.iter().map(|line| parser.line(line)).filter(|heard| *heard != Heard::Alive).collect()
    }

    #[test]
    fn an_event_ends_at_an_empty_line() {
        let heard = events(&["event: board", "data: {\"version\":1}", ""]);
        assert_eq!(heard, [Heard::Event { kind: "board".into(), data: "{\"version\":1}".into() }]);
    }

    #[test]
    fn comments_and_unknown_fields_bring_no_event() {
        assert_eq!(events(&[": still here", "", "id: 4", "retry: 100", ""]), []);
    }

    #[test]
    fn a_cut_event_is_dropped_with_its_parser() {
        assert_eq!(events(&["event: board", "data: {\"ver"]), []);
    }
}
