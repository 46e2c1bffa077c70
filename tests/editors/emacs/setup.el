;;; setup.el --- What the tests share  -*- lexical-binding: t; -*-

(require 'cl-lib)
(require 'ert)
(require 'package)

;; No compiler runs beside the tests.
(setq native-comp-deferred-compilation nil
      native-comp-jit-compilation nil
      make-backup-files nil
      auto-save-default nil
      create-lockfiles nil
      confirm-kill-processes nil
      ring-bell-function #'ignore)
(prefer-coding-system 'utf-8)
(when-let ((folder (getenv "ELPA"))) (add-to-list 'package-directory-list folder))
(defconst root (getenv "MENISCUS_ROOT"))

;; Long enough for a debug build on a busy machine; nothing waits this long unless it fails.
(defconst patience 10)

(defun report (format &rest arguments)
  "Add a line to the report of this run."
  (let ((inhibit-message t) (coding-system-for-write 'utf-8))
    (write-region (concat (apply #'format format arguments) "\n") nil (getenv "MENISCUS_REPORT") t 'quiet)))

(defvar tests nil)

(defmacro test (name &rest body)
  (declare (indent 1))
  `(push (cons ,name (lambda () ,@body)) tests))

(defun wait-for (what condition &optional state)
  "Wait until CONDITION returns something and return it; else fail with WHAT and the STATE.
The command loop runs meanwhile, so that Emacs is idle and does what it does then."
  (let ((end (+ (float-time) patience)) (buffer (current-buffer)) got timer)
    (setq timer (run-with-timer
                 0 0.02
                 (lambda ()
                   (when (or (setq got (with-current-buffer buffer (funcall condition))) (> (float-time) end))
                     (exit-recursive-edit)))))
    (unwind-protect (recursive-edit) (cancel-timer timer))
    (or got
        (ert-fail (format "waited %d s in vain for %s; there is %s" patience what
                          (if state (funcall state) "nothing"))))))

(defun includes (text part)
  "Fail unless PART stands in TEXT."
  (unless (and text (string-match-p (regexp-quote part) text))
    (ert-fail (format "`%s' is not in: %s" part (substring-no-properties text)))))

(defun read-file (path)
  (with-temp-buffer
    (insert-file-contents path)
    (buffer-string)))

(defun run-tests ()
  "Run the tests in their order, and end Emacs: with 0, or with 10 after a failure."
  (let ((failed 0))
    (pcase-dolist (`(,name . ,body) (reverse tests))
      (let ((problem (condition-case problem (ignore (funcall body)) (t problem))))
        (if (null problem)
            (report "ok - %s" name)
          (cl-incf failed)
          (report "not ok - %s\n  %s" name (replace-regexp-in-string "\n" "\n  " (format "%S" problem))))))
    (finish (if (and tests (zerop failed)) 0 10))))

(defun finish (code)
  (with-current-buffer (messages-buffer)
    (let ((coding-system-for-write 'utf-8))
      (write-region nil nil (getenv "MENISCUS_MESSAGES") nil 'quiet)))
  (setq kill-emacs-hook nil)
  (kill-emacs code))

(defun run-file (name)
  "Load the file NAME of tests and run them."
  (condition-case problem
      (progn
        (load (expand-file-name name (concat root "/tests/editors/emacs")) nil t t)
        (run-tests))
    (error
     (message "%s: %S" name problem)
     (finish 11))))
